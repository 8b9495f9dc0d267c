"""Single dates and yes-or-no questions of the rules by place.

Values default to those of the published rule named in each docstring; the caller passes the kennel's own.
Boundaries: 8 weeks are 56 days, allowed on day 56; 12 months are over on the same calendar day, allowed
on it (of 29 February on 1 March, see `anniversary`). Not legal advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from litters.domain.calendar_days import checked_day
from litters.domain.calendar_steps import anniversary, months_after
from litters.domain.place_rules import PlaceRule, RuleSet, Topic

EXPECTED_PREGNANCY_DAYS = 63  # from mating; only to say before a mating when its litter would come


def earliest_leave_on(born_on: date, least_days: int = 56) -> date:
    """The first day on which a pup is old enough to leave: 8 weeks unless the place says otherwise.

    Source: SI 2018/486 Schedule 6 para 1(5) (read in the text); 9 CFR 2.130 (secondary quotation).
    """
    return checked_day(born_on, "birth") + timedelta(days=_whole(least_days, "least age in days"))


def chip_by_on(born_on: date, days: int) -> date:
    """The last day for chipping under a rule of so many days of age."""
    return checked_day(born_on, "birth") + timedelta(days=_whole(days, "days"))


def pup_tag_due_on(born_on: date, days: int = 112) -> date:
    """The day of 16 weeks, from which a licensed breeder's pup needs a tag, tattoo or chip of its own.

    Source: 9 CFR 2.50(a)(2) (read in the text).
    """
    return checked_day(born_on, "birth") + timedelta(days=_whole(days, "days"))


def mating_age_ok(dam_born_on: date, mated_on: date, least_months: int = 12) -> bool:
    """Whether a dam is old enough on the day of mating. Raises ValueError for a mating before her birth.

    12 months: SI 2018/486 Schedule 6 para 6 (from memory; the 1999 Act by secondary quotation).
    """
    if checked_day(mated_on, "mating") < checked_day(dam_born_on, "birth of the dam"):
        raise ValueError("the mating lies before the dam's birth")
    return mated_on >= months_over_on(dam_born_on, least_months)


def litter_interval_ok(previous_whelped_on: date, next_whelped_on: date, months: int = 12) -> bool:
    """Whether a litter keeps the time to the one before, both by the day of whelping.

    One litter in 12 months: SI 2018/486 Schedule 6 para 6 (from memory). Raises ValueError out of order.
    """
    if checked_day(next_whelped_on, "next litter") < checked_day(previous_whelped_on, "previous litter"):
        raise ValueError("the next litter lies before the previous one")
    return next_whelped_on >= months_over_on(previous_whelped_on, months)


def litter_count_ok(previous_litters: int, most: int = 6) -> bool:
    """Whether a dam may have another litter after so many. Six in a life: as above (from memory)."""
    return _whole(previous_litters, "previous litters") < _whole(most, "most litters")


def last_transport_on(mated_on: date, days: int = 54) -> date:
    """The last day on which a carrying dam may be transported, except to a vet: day 54 from mating.

    Source: SI 2018/486 Schedule 6 para 2(10) (read in the text).
    """
    return checked_day(mated_on, "mating") + timedelta(days=_whole(days, "days"))


def eu_rabies_valid(born_on: date, chipped_on: date, rabies_on: date, least_days: int = 84) -> bool:
    """Whether a first rabies vaccination counts for EU travel: at 12 weeks or later, not before the chip.

    Source: Regulation (EU) 576/2013 Annex III (secondary quotation). Chip and vaccination on one day are
    fine. Raises ValueError for dates before birth.
    """
    if min(checked_day(rabies_on, "rabies"), checked_day(chipped_on, "chip")) < checked_day(born_on, "birth"):
        raise ValueError("chip and vaccination cannot lie before birth")
    return (rabies_on - born_on).days >= least_days and chipped_on <= rabies_on


def eu_travel_earliest(
    born_on: date, rabies_on: date, chipped_on: date | None = None, wait_days: int = 21
) -> date:
    """The first day of travel into an EU country: 21 days after the first rabies vaccination.

    chipped_on: None takes the chip as placed in time. Source: as `eu_rabies_valid`. Raises ValueError for a
    vaccination that does not count.
    """
    if not eu_rabies_valid(born_on, rabies_on if chipped_on is None else chipped_on, rabies_on):
        raise ValueError("this vaccination does not count: given under 12 weeks of age or before the chip")
    return rabies_on + timedelta(days=_whole(wait_days, "wait in days"))


def most_litters_in_12_months(whelped_on: Sequence[date]) -> int:
    """The highest number of litters that fall into any 12 months; 0 without a litter."""
    days = sorted(checked_day(one, "a litter") for one in whelped_on)
    return max((sum(first <= one < anniversary(first, 1) for one in days) for first in days), default=0)


def licence_needed(whelped_on: Sequence[date], sold_any: bool, limit: int = 3) -> bool:
    """Whether the number of litters alone calls for a licence: so many in any 12 months, with a pup sold.

    Source: government statutory guidance for England, 2024 (read in the text); a business needs one too.
    """
    return sold_any and most_litters_in_12_months(whelped_on) >= _whole(limit, "limit")


def months_over_on(day: date, months: int) -> date:
    """The first day on which so many months since `day` are over for certain."""
    years, rest = divmod(_whole(months, "months"), 12)
    return anniversary(day, years) if rest == 0 else months_after(day, months)


@dataclass(frozen=True)
class DamFacts:
    """A dam as the rules on litters see her."""

    name: str
    born_on: date | None
    whelped_on: tuple[date, ...] = ()
    caesareans: int = 0


@dataclass(frozen=True)
class Finding:
    """What one rule says about a mating that is thought of: kept or not, why, and from when it would be."""

    rule: PlaceRule
    kept: bool
    text: str
    kept_from_on: date | None = None


def mating_findings(rules: RuleSet, dam: DamFacts, mated_on: date) -> tuple[Finding, ...]:
    """Every enabled rule on litters applied to a mating before it is saved; it asks, it does not forbid."""
    found: list[Finding] = []
    for rule in rules.on(Topic.DAM_AGE_AT_MATING):
        if dam.born_on is not None and rule.value is not None:
            from_on = months_over_on(dam.born_on, rule.value)
            kept = mating_age_ok(dam.born_on, mated_on, rule.value)
            found.append(Finding(rule, kept, f"{dam.name} is old enough from {from_on} on.", from_on))
    for rule in rules.on(Topic.LITTER_INTERVAL):
        if dam.whelped_on and rule.value is not None:
            from_on = months_over_on(max(dam.whelped_on), rule.value)
            expected_on = mated_on + timedelta(days=EXPECTED_PREGNANCY_DAYS)
            text = f"The next litter may come from {from_on} on; it would be expected about {expected_on}."
            mate_from = from_on - timedelta(days=EXPECTED_PREGNANCY_DAYS)
            found.append(Finding(rule, expected_on >= from_on, text, mate_from))
    for rule in rules.on(Topic.LITTERS_IN_LIFE):
        if rule.value is not None:
            kept = litter_count_ok(len(dam.whelped_on), rule.value)
            text = f"{dam.name} has had {len(dam.whelped_on)} of at most {rule.value} litters."
            found.append(Finding(rule, kept, text))
    for rule in rules.on(Topic.CAESAREANS):
        if rule.value is not None:
            text = f"{dam.name} has had {dam.caesareans} caesareans; {rule.value} end her breeding."
            found.append(Finding(rule, dam.caesareans < rule.value, text))
    return tuple(found)


def _whole(value: int, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 20_000:
        raise ValueError(f"{name} must be a whole number from 0 to 20000, not {value!r}")
    return value
