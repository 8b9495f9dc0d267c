"""Watches follow the weights: opened, raised and kept by the rules, closed by people or after a quiet day.

One small gain after a loss of 10 % ends nothing: the rules themselves keep speaking, and when they fall silent
the watch stays open for another day.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health.choices import ClosedBy
from kennel.duties.services import planning, routines
from kennel.records import service, store, types
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.service import Saved
from kennel.records.types import RecordType
from litters.domain.centile_rules import CENTILE_RULES
from litters.domain.growth import MISSING, Reason
from litters.domain.watch_reasons import highest, rank
from litters.selectors import AWAY
from litters.services.assessments import FIRST_STANDARD_AGE, PupAssessment, assess_litters
from litters.services.concerned import litters_concerned, pups_concerned
from litters.services.figures import agreed_figures, growth_limits

SOURCE = "watched-litter"
# From the age of growth tables on a weight is judged by those alone.
TABLE_RULES = frozenset(rule.key for rule in CENTILE_RULES)
QUIET = timedelta(hours=24)
# What a person closed is not opened again for the same reasons for so long; common practice, no source.
CLOSED_FOR = timedelta(hours=24)
LOSS_RULES = ("first_days_loss", "loss_still_open")


@dataclass(frozen=True)
class _Open:
    """A watch of the rules that is open."""

    uid: UUID
    level: str
    rules: frozenset[str]
    quiet_since: datetime | None


@dataclass(frozen=True)
class _Known:
    """What is known of the watches of some pups, by internal id of the pup."""

    open: Mapping[int, _Open]
    closed: Mapping[int, Sequence[tuple[str, frozenset[str] | None]]]
    loss_closed_at: Mapping[int, datetime]


def watch_type() -> RecordType:
    """The record type of watches."""
    found = types.by_name("watch")
    assert found is not None  # registered by this app itself
    return found


def readings_follow(saved: Sequence[Saved], door: Door) -> None:
    """Weights or temperatures were written: judge the litters of those pups and let watches follow."""
    litters = [
        litter.uid
        for litter in litters_concerned(saved, door)
        if litter.is_open and (litter.has_tables or litter.youngest_born_at > door.at - FIRST_STANDARD_AGE)
    ]
    if not litters:
        return
    touched = pups_concerned(saved)
    corrected = {(s.before or {}).get("pup_id") for s in saved if s.before is not None}
    known = _known(litters, door)
    judged = assess_litters(litters, door.kennel.id, door.at, known.loss_closed_at)
    pups = [pup for litter in judged.values() for pup in litter.pups]
    opened = [new for pup in pups if (new := _opening(pup, known, door.at)) is not None]
    changes = [
        change
        for pup in pups
        if (change := _change(pup, known.open.get(pup.pup.id), touched, corrected, door.at)) is not None
    ]
    _write(opened, changes, door)


def _known(litters: Sequence[UUID], door: Door) -> _Known:
    """Open watches of the rules, and those that were closed, of all pups of these litters.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT h.pup_id, json_build_object('uid', h.uid, 'level', h.level, 'rules', h.rules,
                'quiet_since', h.quiet_since, 'closed_at', h.closed_at, 'closed_by', h.closed_by)::text
            FROM health_watch h
            JOIN litters_pup p ON p.kennel_id = h.kennel_id AND p.id = h.pup_id
            JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            WHERE h.kennel_id = %s AND h.deleted_at IS NULL AND h.rules <> '[]' AND l.uid = ANY(%s::uuid[])
            ORDER BY h.opened_at, h.id LIMIT 2000
            """,
            [door.kennel.id, store.array(litters)],
        )
        rows = [(pup_id, store.load(text)) for pup_id, text in cursor.fetchall()]
    standing: dict[int, _Open] = {}
    closed: dict[int, list[tuple[str, frozenset[str] | None]]] = {}
    loss: dict[int, datetime] = {}
    for pup_id, row in rows:
        rules = frozenset(row["rules"])
        if row["closed_at"] is None:
            quiet = None if row["quiet_since"] is None else datetime.fromisoformat(row["quiet_since"])
            standing.setdefault(pup_id, _Open(UUID(row["uid"]), row["level"], rules, quiet))
            continue
        closed_at = datetime.fromisoformat(row["closed_at"])
        if row["closed_by"] == ClosedBy.VET and rules & set(LOSS_RULES):
            loss[pup_id] = max(closed_at, loss.get(pup_id, closed_at))
        if row["closed_by"] != ClosedBy.RULES and closed_at > door.at - CLOSED_FOR:
            # The vet's word covers what belongs to the same trouble; a carer's the reasons that were there.
            covered = None if row["closed_by"] == ClosedBy.VET else rules
            closed.setdefault(pup_id, []).append((row["level"], covered))
    return _Known(standing, closed, loss)


def _is_past(pup: PupAssessment) -> bool:
    """Whether the rules for the first 12 weeks judge it no more."""
    return pup.found.at - pup.pup.born_at >= FIRST_STANDARD_AGE


def _speaking(pup: PupAssessment) -> list[Reason]:
    """Reasons for a watch.  A weighing that is only missing is the business of the daily round."""
    if _is_past(pup):
        return [reason for reason in pup.found.reasons if reason.rule in TABLE_RULES]
    return [reason for reason in pup.found.reasons if reason.rule != MISSING]


def _level(reasons: Sequence[Reason]) -> str:
    return highest([reason.level for reason in reasons])


def _opening(pup: PupAssessment, known: _Known, at: datetime) -> dict[str, Any] | None:
    """The new watch a pup needs; None when one is open, or a person has just closed one for the same."""
    reasons = _speaking(pup)
    if not reasons or pup.pup.id in known.open:
        return None
    rules, level = {reason.rule for reason in reasons}, _level(reasons)
    for closed_level, closed_rules in known.closed.get(pup.pup.id, ()):
        if (closed_rules is None or rules <= closed_rules) and rank(level) <= rank(closed_level):
            return None
    return {"pup": str(pup.pup.uid), "opened_at": at.isoformat(), **_told(reasons, level)}


def _told(reasons: Sequence[Reason], level: str) -> dict[str, Any]:
    return {
        "level": level,
        "rules": sorted({reason.rule for reason in reasons}),
        "reasons": [f"{reason.words} ({reason.source})"[:500] for reason in reasons],
    }


def _change(
    pup: PupAssessment,
    watch: _Open | None,
    touched: set[Any],
    corrected: set[Any],
    at: datetime,
) -> tuple[UUID, dict[str, Any]] | None:
    """What becomes of an open watch: raised, kept with today's reasons, quiet, or closed after a quiet day."""
    if watch is None:
        return None
    reasons = _speaking(pup)
    if reasons:
        level = highest([watch.level, _level(reasons)])
        told = _told(reasons, level)
        same = level == watch.level and frozenset(told["rules"]) == watch.rules
        if same and pup.pup.id not in touched and watch.quiet_since is None:
            return None
        return watch.uid, {**told, "quiet_since": None}
    # No longer judged is not the same as nothing found: people close what was open at 12 weeks.
    if pup.pup.id not in touched or (_is_past(pup) and not watch.rules & TABLE_RULES):
        return None
    if pup.pup.id in corrected:
        return watch.uid, _closed(at, "A reading was corrected; nothing is found any more.")
    if watch.quiet_since is None:
        return watch.uid, {"quiet_since": at.isoformat()}
    if at - watch.quiet_since >= QUIET:
        return watch.uid, _closed(at, "Nothing found any more for a day.")
    return None


def _closed(at: datetime, why: str) -> dict[str, Any]:
    return {"closed_at": at.isoformat(), "closed_by": ClosedBy.RULES.value, "closing_reason": why}


def _write(
    opened: Sequence[dict[str, Any]], changes: Sequence[tuple[UUID, dict[str, Any]]], door: Door
) -> None:
    """Through the records' service, so that journal, feed and reactions know."""
    record_type = watch_type()
    items = [
        service.NewRecord(place, new_uid(), service.check(record_type.input, data))
        for place, data in enumerate(opened)
    ]
    outcomes = service.create(record_type, items, door) if items else []
    quiet = {uid: patch.pop("quiet_since") for uid, patch in changes if "quiet_since" in patch}
    if changes:
        _set_quiet(quiet, door)
        outcomes += service.update(
            record_type,
            [service.Change(place, uid, None, patch) for place, (uid, patch) in enumerate(changes) if patch],
            door,
        )
    for outcome in outcomes:
        if outcome.refusal is not None:
            raise outcome.refusal


def _set_quiet(quiet: Mapping[UUID, str | None], door: Door) -> None:
    """Since when nothing is found; only the server writes that."""
    if not quiet:
        return
    current = store.current_rows(watch_type(), set(quiet), door.kennel.id)
    changed = [
        {"uid": uid, "quiet_since": since}
        for uid, since in quiet.items()
        if current[uid]["quiet_since"] != since
    ]
    if changed:
        store.update(watch_type(), changed, door.kennel.id)


def pups_follow(saved: Sequence[Saved], door: Door) -> None:
    """Pups that died or went home are not watched here any more."""
    pup_ids = sorted({s.columns.get("pup_id") or s.id for s in saved if "pup_id" in s.columns or s.before})
    if not pup_ids:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT h.uid, p.fate <> 'living' FROM health_watch h
            JOIN litters_pup p ON p.kennel_id = h.kennel_id AND p.id = h.pup_id
            WHERE h.kennel_id = %(kennel)s AND h.deleted_at IS NULL AND h.closed_at IS NULL
              AND p.id = ANY(%(pups)s) AND (p.fate <> 'living' OR {AWAY}) ORDER BY h.id LIMIT 400
            """,  # noqa: S608 - a constant of litters.selectors
            {"kennel": door.kennel.id, "pups": pup_ids, "at": door.at},
        )
        gone = cursor.fetchall()
    changes = [(uid, _closed(door.at, "The pup died." if died else "Gone home.")) for uid, died in gone]
    _write([], changes, door)


def watches_follow(saved: Sequence[Saved], door: Door) -> None:
    """A watched pup is weighed again, as often as the rhythm under watch asks, until its watch is closed."""
    pup_ids = sorted({s.columns.get("pup_id") or (s.before or {}).get("pup_id") or 0 for s in saved})
    litters = _watched(pup_ids, door)
    if not litters:
        return
    limits = growth_limits(agreed_figures(door.kennel.id))
    for litter, pups in litters.items():  # people and rules write watches for one litter at a time
        wanted = {}
        for uid, born_at, opened_at in pups:
            age_h = (door.at - born_at).total_seconds() / 3600
            every = timedelta(hours=limits.weighing_every_h(age_h, is_under_watch=True))
            wanted[f"again:{uid}"] = {
                "kind": "weigh-again",
                "subject_type": "pup",
                "subject_uid": str(uid),
                "rule": {
                    "kind": "every",
                    "interval_s": int(every.total_seconds()),
                    "anchor_at": (opened_at + every).isoformat(),
                    "from": "completion",
                },
            }
        routines.routines_set(SOURCE, litter, wanted, door)
    # The routines may be the same and their reasons others.
    planning.replan(planning.routines_of(door, sources=[(SOURCE, litter) for litter in litters]), door)


def _watched(pup_ids: Sequence[int], door: Door) -> dict[UUID, list[tuple[UUID, datetime, datetime]]]:
    """Open watches of pups of the litters these pups are of: (pup, born, opened) by litter.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT l.uid, p.uid, p.born_at, min(h.opened_at)
            FROM litters_litter l
            LEFT JOIN litters_pup p ON p.kennel_id = l.kennel_id AND p.litter_id = l.id
                AND EXISTS (SELECT FROM health_watch h WHERE h.kennel_id = p.kennel_id AND h.pup_id = p.id
                            AND h.closed_at IS NULL AND h.deleted_at IS NULL)
            LEFT JOIN health_watch h ON h.kennel_id = p.kennel_id AND h.pup_id = p.id AND h.closed_at IS NULL
                AND h.deleted_at IS NULL
            WHERE l.kennel_id = %s AND l.id IN (
                SELECT litter_id FROM litters_pup WHERE kennel_id = %s AND id = ANY(%s))
            GROUP BY l.uid, p.id, p.uid, p.born_at ORDER BY p.id LIMIT 400
            """,
            [door.kennel.id, door.kennel.id, list(pup_ids)],
        )
        found: dict[UUID, list[tuple[UUID, datetime, datetime]]] = {}
        for litter, pup, born_at, opened_at in cursor.fetchall():
            pups = found.setdefault(litter, [])
            if pup is not None:
                pups.append((pup, born_at, opened_at))
    return found
