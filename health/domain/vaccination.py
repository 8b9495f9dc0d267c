"""Vaccination by age and interval: when a series is complete, what comes next, boosters.

A series is complete by the age at its last dose, never by the number of doses: antibodies from the dam
fade at different ages and spoil an early dose unseen. Each rule names its source and can be edited; the
vaccine's own label and the vet outrank all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from litters.domain.calendar_days import checked_day
from litters.domain.calendar_steps import anniversary

CAUTION = "The vaccine's label, the vet and local law decide. A sick pup's dose is put off by the vet."

_WSAVA = "WSAVA guidelines 2024 (J Small Anim Pract, doi 10.1111/jsap.13718) and AAHA, as told by clinics"
_AAHA_2017 = "AAHA 2017, page on overdue dogs"
_SECONDARY = "verified in text (secondary quotation)"


@dataclass(frozen=True)
class SeriesRule:
    """A first series: ages in days, gaps in days, both ends included.

    doses: how many at least; last_age_days: least age at the last dose (0: none). booster_years: from the
    series to the next dose and onwards.
    """

    key: str
    name: str
    first_age_days: int
    first_age_until_days: int
    gap_min_days: int
    gap_max_days: int
    doses: int
    last_age_days: int
    booster_years: int
    source: str
    status: str


CORE = SeriesRule(
    "core",
    "Core vaccines (distemper, adenovirus, parvovirus)",
    first_age_days=42,
    first_age_until_days=56,
    gap_min_days=14,
    gap_max_days=42,  # usual repeat 2 to 4 weeks; 6 weeks is the longest gap that does not restart
    doses=1,  # never by count
    last_age_days=112,
    booster_years=3,
    source=f"{_WSAVA}; longest gap: {_AAHA_2017}",
    status=_SECONDARY,
)
LEPTOSPIROSIS = SeriesRule(
    "leptospirosis", "Leptospirosis", 56, 84, 14, 28, 2, 0, 1, "AAHA as told by a clinic", _SECONDARY
)
KENNEL_COUGH_NASAL = SeriesRule(
    "kennel_cough_nasal",
    "Kennel cough by nose or mouth (the label says from 3 to 8 weeks)",
    21,
    56,
    14,
    28,
    1,
    0,
    1,
    "owner's veterinary handbook; AAHA as told by a clinic",
    _SECONDARY,
)
KENNEL_COUGH_INJECTED = SeriesRule(
    "kennel_cough_injected",
    "Kennel cough by injection",
    56,
    56,
    14,
    28,
    2,
    0,
    1,
    "owner's veterinary handbook; AAHA as told by a clinic",
    _SECONDARY,
)
RABIES = SeriesRule(
    "rabies", "Rabies", 84, 84, 14, 365, 1, 0, 1, f"{_AAHA_2017}; local law governs", _SECONDARY
)

RULES = {one.key: one for one in (CORE, LEPTOSPIROSIS, KENNEL_COUGH_NASAL, KENNEL_COUGH_INJECTED, RABIES)}

USUAL_REPEAT_DAYS = (14, 28)  # every 2 to 4 weeks; same sources as CORE
BOOSTER_AGE_DAYS = 182  # about 26 weeks, WSAVA 2024, in place of the one at 12 to 16 months
BOOSTER_EARLY_DAYS = 14  # "about" 26 weeks; common practice, no source
OTHER_VACCINE_GAP_DAYS = 14  # between different vaccines on different days; WSAVA, from memory
NASAL_BEFORE_RISK_DAYS = 7  # kennel cough by nose: a week before the risk; handbook, secondary quotation


@dataclass(frozen=True)
class NextDose:
    """When a next dose belongs: not before, usually until, and the last day before the series restarts.

    Before the first dose there is nothing to restart: its last day is only the usual one.
    """

    not_before_on: date
    usual_until_on: date
    latest_on: date
    reason: str


@dataclass(frozen=True)
class SeriesState:
    """Whether a series is complete and since when, every reason against it, the next dose or booster.

    restart: the AAHA rule for overdue pups was met since the last too long gap (two doses 3 to 4 weeks
    apart, ending at 16 weeks or later): whether that will do is the vet's word.
    """

    rule: str
    complete: bool
    reasons: tuple[str, ...]
    completed_on: date | None
    next_dose: NextDose | None
    booster_on: date | None
    restart: bool = False
    source: str = ""
    status: str = ""
    caution: str = CAUTION


def series_state(rule: SeriesRule, born_on: date, doses_on: Sequence[date]) -> SeriesState:
    """How far a series is: complete when ages and gaps of all doses meet the rule.

    doses_on: in any order. Raises ValueError for a dose before birth or dates outside 1900 to 2199.
    """
    doses = _checked(born_on, doses_on)
    # What comes after a complete series is a booster and cannot make it incomplete again.
    for length in range(1, len(doses) + 1):
        series, boosters = doses[:length], doses[length:]
        if not _reasons_against(rule, born_on, series):
            booster_on = _booster_on(rule, born_on, series, boosters)
            return SeriesState(
                rule.key, True, (), series[-1], None, booster_on, False, rule.source, rule.status
            )
    return SeriesState(
        rule.key,
        False,
        tuple(_reasons_against(rule, born_on, doses)),
        None,
        _next_dose(rule, born_on, doses),
        None,
        restart=_restarted(rule, born_on, doses),
        source=rule.source,
        status=rule.status,
    )


def core_series_complete(born_on: date, doses_on: Sequence[date]) -> bool:
    """Whether the core series is complete: every gap 14 to 42 days, first dose at 42 days of age or later,
    last at 112 days (16 weeks) or later. Sources: see `CORE`.
    """
    return series_state(CORE, born_on, doses_on).complete


def core_last_dose_not_before(born_on: date) -> date:
    """The first day on which a dose can be the last of the core series: 16 weeks (112 days) of age."""
    return _age_on(born_on, CORE.last_age_days)


def booster_26_weeks_on(born_on: date) -> date:
    """The day of 26 weeks (182 days) of age, for the booster of WSAVA 2024 (secondary quotation)."""
    return _age_on(born_on, BOOSTER_AGE_DAYS)


def booster_by_on(last_dose_on: date) -> date:
    """Until when AAHA wants the next core dose: within a year of the last puppy dose (second-hand)."""
    return anniversary(checked_day(last_dose_on, "last dose"), 1)


def next_core_not_before(last_booster_on: date) -> date:
    """From when on a core dose may be repeated after the booster: not oftener than every 3 years."""
    return anniversary(checked_day(last_booster_on, "last booster"), CORE.booster_years)


def rabies_not_before(born_on: date) -> date:
    """The first day for rabies: 12 weeks (84 days) of age; a booster within a year; local law governs."""
    return _age_on(born_on, RABIES.first_age_days)


def interval_ok(previous_on: date, next_on: date) -> bool:
    """Whether two vaccinations lie at least 14 days apart. Raises ValueError when they are out of order.

    Rule: two different vaccines that are not given on one day lie 2 weeks apart (WSAVA; from memory,
    unverified); giving them together is for label and vet to say, so one day counts as too close here.
    """
    if next_on < previous_on:
        raise ValueError("the next dose lies before the previous one")
    return (next_on - previous_on).days >= OTHER_VACCINE_GAP_DAYS


def nasal_dose_latest_on(risk_on: date) -> date:
    """The last day for kennel cough by nose or mouth before a risk (boarding, a show): a week before it."""
    return checked_day(risk_on, "risk") - timedelta(days=NASAL_BEFORE_RISK_DAYS)


def _reasons_against(rule: SeriesRule, born_on: date, doses: Sequence[date]) -> list[str]:
    if not doses:
        return ["No dose is recorded."]
    found = []
    first_age, last_age = (doses[0] - born_on).days, (doses[-1] - born_on).days
    if first_age < rule.first_age_days:
        found.append(f"The first dose was at {first_age} days of age, under {rule.first_age_days}.")
    for earlier, later in pairwise(doses):
        gap = (later - earlier).days
        if not rule.gap_min_days <= gap <= rule.gap_max_days:
            found.append(f"{gap} days lie between {earlier} and {later}; {_gaps(rule)} are asked for.")
    if last_age < rule.last_age_days:
        found.append(
            f"The last dose was at {last_age} days of age; it must be at {rule.last_age_days} or later."
        )
    if len(doses) < rule.doses:
        found.append(f"{len(doses)} of {rule.doses} doses are recorded.")
    return found


def _next_dose(rule: SeriesRule, born_on: date, doses: Sequence[date]) -> NextDose:
    usual_gap = min(rule.gap_max_days, USUAL_REPEAT_DAYS[1])
    if not doses:
        first, until = _age_on(born_on, rule.first_age_days), _age_on(born_on, rule.first_age_until_days)
        return NextDose(first, until, until, "first dose")
    last = doses[-1]
    not_before = max(last + timedelta(days=rule.gap_min_days), _age_on(born_on, rule.first_age_days))
    usual = max(last + timedelta(days=usual_gap), not_before)
    latest = max(last + timedelta(days=rule.gap_max_days), not_before)
    closing = _age_on(born_on, rule.last_age_days)
    if rule.last_age_days and not_before <= closing <= latest:
        reason = f"a dose from {closing} on can be the last"
    elif rule.last_age_days and latest < closing:
        reason = "a further dose is needed after it"
    else:
        reason = "repeat"
    return NextDose(not_before, usual, latest, reason)


def _booster_on(rule: SeriesRule, born_on: date, series: Sequence[date], boosters: Sequence[date]) -> date:
    """The next booster.

    Core: at 26 weeks; after a dose at about that age not oftener than every 3 years; where the series
    itself ended that late, within a year of it (AAHA). Others: by the rule's years.
    """
    last = boosters[-1] if boosters else series[-1]
    if rule is not CORE:
        return anniversary(last, rule.booster_years)
    about_26_weeks = booster_26_weeks_on(born_on) - timedelta(days=BOOSTER_EARLY_DAYS)
    if last < about_26_weeks:
        return booster_26_weeks_on(born_on)
    return next_core_not_before(last) if boosters else booster_by_on(last)


def _restarted(rule: SeriesRule, born_on: date, doses: Sequence[date]) -> bool:
    """AAHA 2017, starters of 6 to 20 weeks: 2 doses or more, 3 to 4 weeks apart, the last at 16 weeks on."""
    if rule is not CORE or len(doses) < 2:
        return False
    last_two_gap = (doses[-1] - doses[-2]).days
    return 21 <= last_two_gap <= 28 and (doses[-1] - born_on).days >= rule.last_age_days


def _gaps(rule: SeriesRule) -> str:
    return f"{rule.gap_min_days} to {rule.gap_max_days}"


def _checked(born_on: date, doses_on: Sequence[date]) -> list[date]:
    doses = sorted(checked_day(one, "a dose") for one in doses_on)
    if doses and doses[0] < checked_day(born_on, "birth"):
        raise ValueError(f"a dose on {doses[0]} lies before birth")
    return doses


def _age_on(born_on: date, days: int) -> date:
    return checked_day(born_on, "birth") + timedelta(days=days)
