"""Due dates counted from one event each: the table rules a breeder knows, before evidence is combined.

The anchor day is day 0.  Each function gives the due date with the window the published range allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil
from statistics import NormalDist

from litters.domain.calendar_days import checked_day, days_after
from litters.domain.gestation_figures import (
    COMMON_PRACTICE,
    KUTZLER_2003,
    MERCK_WHELPING,
    MIR_2011,
    PUBLISHED_FIGURES,
    QUOTED,
    VERIFIED,
    WINDOW_SHARE,
)

LH_LENGTH_DAYS = 65
OVULATION_LENGTH_DAYS = 63
DIESTRUS_LENGTH_DAYS = 57
MATING_LENGTH_DAYS = 63
FIRST_MATING_WINDOW_DAYS = (58, 72)
SINGLE_MATING_EXTREME_DAYS = (55, 68)

ESTIMATE_CAUTION = "An estimate: watch the dam, not the calendar, and ask your vet when a date passes."


@dataclass(frozen=True, slots=True)
class DueDates:
    """A due date and its window, counted from one event."""

    anchor: str
    anchor_on: date
    due_on: date
    window_start_on: date
    window_end_on: date
    method: str
    source: str
    status: str
    caution: str


def due_from_lh(lh_surge_on: date) -> DueDates:
    """Due 65 days after the LH surge, window 64-66 days.

    Source: Kutzler et al. 2003 (abstract) for 64-66 d; more than 95 % of normal pregnancies: Concannon 2003
    as quoted [verified in text, the share as a secondary quotation].  Raises ValueError for an impossible
    date.
    """
    return _counted("lh_surge", lh_surge_on, LH_LENGTH_DAYS, (64, 66), KUTZLER_2003, VERIFIED)


def due_from_progesterone_rise(first_rise_on: date) -> DueDates:
    """Due 65 days after the first clear progesterone rise above 2 ng/mL, window 64-66 days.

    Source: Merck Veterinary Manual [verified in text].  Raises ValueError for an impossible date.
    """
    return _counted("progesterone_rise", first_rise_on, LH_LENGTH_DAYS, (64, 66), MERCK_WHELPING, VERIFIED)


def due_from_ovulation(ovulation_on: date) -> DueDates:
    """Due 63 days after ovulation, with the 90 % window of the published spread (day 60 to day 67).

    63 is the working rule [common practice]; the window comes from mean 63.1 d, SD 2.1 d (Mir et al. 2011,
    162 pregnancies, 53 breeds) [verified in text].  The "+/-1 day" often printed is narrower than that spread
    allows. Raises ValueError for an impossible date.
    """
    spread = NormalDist(PUBLISHED_FIGURES.ovulation_mean_days, PUBLISHED_FIGURES.ovulation_sd_days)
    window = whole_day_window(spread)
    return _counted("ovulation", ovulation_on, OVULATION_LENGTH_DAYS, window, MIR_2011, VERIFIED)


def due_from_diestrus_d1(diestrus_d1_on: date) -> DueDates:
    """Due 57 days after the first day of cytological diestrus, window 56-58 days.

    Source: Merck Veterinary Manual [verified in text]; others quote 57 +/- 3 d.  Raises ValueError for an
    impossible date.
    """
    return _counted("diestrus_d1", diestrus_d1_on, DIESTRUS_LENGTH_DAYS, (56, 58), MERCK_WHELPING, VERIFIED)


def window_from_first_mating(first_mating_on: date) -> DueDates:
    """Window 58-72 days after the first mating the bitch allowed; the due date inside it is the table day 63.

    Source: Merck Veterinary Manual for 58-72 d [verified in text]; day 63 is the habit of printed whelping
    tables [common practice, no source].  Raises ValueError for an impossible date.
    """
    return _counted(
        "first_mating",
        first_mating_on,
        MATING_LENGTH_DAYS,
        FIRST_MATING_WINDOW_DAYS,
        MERCK_WHELPING,
        VERIFIED,
    )


def due_from_mating(mating_on: date) -> DueDates:
    """Due 63 days after a mating, as printed tables have it, with the extremes of any one mating.

    Sources: +63 d [common practice, no source]; 55-68 d, a review page by Concannon [secondary quotation].
    Raises ValueError for an impossible date.
    """
    source = f"printed whelping tables ({COMMON_PRACTICE}); extremes: Concannon, review page"
    return _counted("mating", mating_on, MATING_LENGTH_DAYS, SINGLE_MATING_EXTREME_DAYS, source, QUOTED)


def whole_day_window(spread: NormalDist) -> tuple[int, int]:
    """First and last whole day of the 90 % window of a normal spread.

    A day counts from half a day before to half a day after its number.  The first day is the earliest by
    which 5 % has happened, the last the earliest by which 95 % has.
    """
    tail = (1 - WINDOW_SHARE) / 2
    return ceil(spread.inv_cdf(tail) - 0.5), ceil(spread.inv_cdf(1 - tail) - 0.5)


def _counted(
    anchor: str, anchor_on: date, length_days: int, window_days: tuple[int, int], source: str, status: str
) -> DueDates:
    day = checked_day(anchor_on, anchor)
    first, last = window_days
    return DueDates(
        anchor=anchor,
        anchor_on=day,
        due_on=days_after(day, length_days),
        window_start_on=days_after(day, first),
        window_end_on=days_after(day, last),
        method=f"day {length_days} after {anchor.replace('_', ' ')}, window day {first} to day {last}",
        source=source,
        status=status,
        caution=ESTIMATE_CAUTION,
    )
