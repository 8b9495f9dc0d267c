"""The rules of the kennel's place as they stand for it, and what they say about a mating."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import connection

from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import Door, KennelHere
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.domain.law_checks import DamFacts, Finding, mating_findings
from litters.domain.place_rules import RuleSet
from litters.domain.rules_by_place import RULE_SETS, rule_set

# Countries and parts of countries by ISO 3166; members of the European Union as of 2026.
_BY_CODE = {
    "GB-ENG": "England",
    "IE": "Ireland",
    "NL": "Netherlands",
    "US": "US federal",
    "US-NY": "New York",
    "US-TX": "Texas",
}
_EU_MEMBERS = "AT BE BG HR CY CZ DK EE FI FR DE GR HU IE IT LV LT LU MT NL PL PT RO SK SI ES SE"
_EU_CODES = frozenset(_EU_MEMBERS.split())
RULE_KEYS = frozenset(rule.key for rules in RULE_SETS.values() for rule in rules.rules)


def rules_of(kennel: KennelHere, *, travels: bool = False) -> RuleSet:
    """The kennel's rules: published ones of its place, with what it switched off or read itself.  One query.

    A place without rules of its own gets those of its country, a place that is not set none.
    """
    found = published_rules(kennel.place)
    if travels:
        found = found.joined(rule_set("EU travel"))
    known = {rule.key for rule in found.rules}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT ON (rule_key) rule_key, is_enabled, value, source, read_on FROM litters_rulesetting"
            " WHERE kennel_id = %s AND deleted_at IS NULL ORDER BY rule_key, id DESC",
            [kennel.id],
        )
        for key, is_enabled, value, source, read_on in cursor.fetchall():
            if key in known:
                found = found.switched(key, is_enabled)
                if value is not None:
                    found = found.edited(key, value, source, read_on)
    return found


def published_rules(place: str) -> RuleSet:
    """The published rules of a place by its ISO 3166 code; an empty set named "none" where none are known."""
    country = place.partition("-")[0]
    name = _BY_CODE.get(place) or _BY_CODE.get(country)
    found = rule_set(name or ("EU members" if country in _EU_CODES else "none"))
    if country in _EU_CODES and not any(rule.place == "EU members" for rule in found.rules):
        found = found.joined(rule_set("EU members"))
    return found


def settings_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Refuse a setting of a rule that is not known."""
    for draft in drafts:
        if draft.input.rule_key not in RULE_KEYS:
            draft.refuse(invalid("rule_key", "unknown_rule", "No rule has this key."))


_DAMS = """
    SELECT d.id, d.name, d.born_on, ARRAY(
        SELECT l.whelped_at FROM litters_litter l WHERE l.kennel_id = d.kennel_id AND l.dam_id = d.id
          AND l.deleted_at IS NULL AND l.whelped_at IS NOT NULL ORDER BY l.whelped_at LIMIT 60)
    FROM litters_dog d WHERE d.kennel_id = %s AND d.id IN (SELECT value::bigint FROM json_array_elements_text(%s))
"""


def findings_before_mating(
    matings: Sequence[tuple[int | None, date]], kennel: KennelHere
) -> list[tuple[Finding, ...]]:
    """What the rules say about each (dam, day) of a mating.  Two queries for all."""
    rules = rules_of(kennel)
    dams: dict[int, tuple[Any, ...]] = {}
    with connection.cursor() as cursor:
        wanted = sorted({dam for dam, _ in matings if dam is not None})
        cursor.execute(_DAMS, [kennel.id, store.dump(wanted)])
        dams = {row[0]: row for row in cursor.fetchall()}
    found: list[tuple[Finding, ...]] = []
    for dam_id, mated_on in matings:
        row = dams.get(dam_id) if dam_id is not None else None
        found.append(_findings(rules, row, mated_on, kennel.zone) if row else ())
    return found


def _findings(rules: RuleSet, row: tuple[Any, ...], mated_on: date, zone: str) -> tuple[Finding, ...]:
    _, name, born_on, whelped = row
    if born_on is not None and mated_on < born_on:
        return ()
    before = tuple(day for at in whelped if (day := local_day(at, zone)) < mated_on)
    return mating_findings(rules, DamFacts(name, born_on, before), mated_on)
