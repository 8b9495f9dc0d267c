"""Dates that hang on the due window: what to prepare, watch and check, and when.

Days of pregnancy are counted back from the likeliest day: day 0 is 63 days before it, the day ovulation would
have been.  Transport limits and rules on litters are law, not biology, and live in `leaving.py` and its
neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from litters.domain.calendar_days import checked_day, days_after
from litters.domain.due_window_result import DueWindow
from litters.domain.gestation_figures import COMMON_PRACTICE, FROM_MEMORY, QUOTED, VERIFIED

LENGTH_FROM_OVULATION_DAYS = 63
ROOM_READY_DAYS_BEFORE_WINDOW = 7
TEMPERATURE_DAYS_BEFORE_WINDOW = 5
LATE_GESTATION_RATION_DAY = 33
UC_DAVIS = "UC Davis veterinary hospital leaflet"
CALCIUM_CAUTION = "No calcium or dairy supplements in pregnancy: they raise the risk of eclampsia."


@dataclass(frozen=True, slots=True)
class Milestone:
    """One date or span of dates to act on; a span of one day has ends_on equal to starts_on."""

    key: str
    title: str
    starts_on: date
    ends_on: date
    basis: str
    source: str
    status: str
    caution: str


def milestones(
    window: DueWindow,
    *,
    first_mating_on: date | None = None,
    last_mating_on: date | None = None,
    lh_surge_on: date | None = None,
) -> tuple[Milestone, ...]:
    """The milestones of a pregnancy, by date.

    They move when the window moves.  The three dates add the published limits for an overdue dam; leave out
    what is not known.  Raises ValueError for an impossible date.
    """
    found = [
        *_confirmation(window),
        *_care(window),
        *_preparation(window),
        *_overdue(window, first_mating_on, last_mating_on, lh_surge_on),
    ]
    return tuple(sorted(found, key=lambda milestone: (milestone.starts_on, milestone.key)))


def day_zero_on(window: DueWindow) -> date:
    """Day 0 of the pregnancy as counted here: 63 days before the likeliest day of whelping."""
    return days_after(window.likeliest_on, -LENGTH_FROM_OVULATION_DAYS)


def _confirmation(window: DueWindow) -> list[Milestone]:
    zero = day_zero_on(window)
    return [
        Milestone(
            "palpation",
            "Palpation by the vet",
            days_after(zero, 28),
            days_after(zero, 30),
            "day 28 to 30; possible from day 21 to 31",
            UC_DAVIS,
            VERIFIED,
            "Leave it to the vet; after day 35 the sacs merge and nothing can be felt.",
        ),
        Milestone(
            "scan",
            "Ultrasound: pregnant, heartbeats, and a better due date",
            days_after(zero, 25),
            days_after(zero, 30),
            "heartbeat from day 23 to 25; dating is best in weeks 4 and 5",
            UC_DAVIS,
            VERIFIED,
            "Have two or more fetuses measured and the figures written down. "
            "A count by ultrasound is unreliable.",
        ),
        Milestone(
            "relaxin_test",
            "Relaxin blood test, if no scan is possible",
            days_after(zero, 28),
            days_after(zero, 33),
            "80 % positive by day 28, some only by day 33",
            f"{UC_DAVIS}; a veterinary laboratory guide",
            VERIFIED,
            "A tiny litter can test negative, and the test says nothing about number or life.",
        ),
        Milestone(
            "x_ray",
            "X-ray to count the pups",
            _x_ray_from(window),
            _x_ray_until(window),
            "best count in the last 7 to 10 days; useful after day 45",
            UC_DAVIS,
            VERIFIED,
            "Take the count to the whelping log: it tells whether more pups are to come.",
        ),
    ]


def _x_ray_from(window: DueWindow) -> date:
    return max(days_after(window.likeliest_on, -10), days_after(day_zero_on(window), 46))


def _x_ray_until(window: DueWindow) -> date:
    before_window = days_after(window.earliest_on, -1)
    return max(_x_ray_from(window), min(days_after(window.likeliest_on, -7), before_window))


def _care(window: DueWindow) -> list[Milestone]:
    zero = day_zero_on(window)
    return [
        Milestone(
            "late_gestation_ration",
            "Late-pregnancy ration begins",
            days_after(zero, LATE_GESTATION_RATION_DAY),
            window.latest_on,
            "from week 5, about day 30 to 35, until whelping",
            "NRC 2006, Table 15-6",
            FROM_MEMORY,
            CALCIUM_CAUTION,
        ),
        Milestone(
            "temperature_rounds",
            "Rectal temperature, same hours, 2 to 4 times a day",
            days_after(window.earliest_on, -TEMPERATURE_DAYS_BEFORE_WINDOW),
            window.latest_on,
            f"from {TEMPERATURE_DAYS_BEFORE_WINDOW} days before the window opens",
            "",
            COMMON_PRACTICE,
            "A fall can be brief or missed: no fall seen is never reassurance.",
        ),
    ]


def _preparation(window: DueWindow) -> list[Milestone]:
    ready_on = days_after(window.earliest_on, -ROOM_READY_DAYS_BEFORE_WINDOW)
    return [
        Milestone(
            "room_ready",
            "Whelping room ready, dam used to it, vet and night number on the wall",
            ready_on,
            ready_on,
            f"{ROOM_READY_DAYS_BEFORE_WINDOW} days before the window opens",
            "",
            COMMON_PRACTICE,
            "A fire-safe heat source with a cool place to move to; rinse and dry after disinfecting.",
        ),
        Milestone(
            "window",
            "Whelping expected: somebody with her day and night",
            window.earliest_on,
            window.latest_on,
            window.method,
            window.source,
            VERIFIED,
            "Whelping before the window opens: ring the vet.",
        ),
    ]


def _overdue(
    window: DueWindow, first_mating_on: date | None, last_mating_on: date | None, lh_surge_on: date | None
) -> list[Milestone]:
    rules = (
        (
            "overdue_first_mating",
            first_mating_on,
            70,
            "more than 70 days from the first mating",
            "Jutkowitz 2005, Vet Clin North Am 35:397-420",
        ),
        (
            "overdue_last_mating",
            last_mating_on,
            72,
            "more than 72 days from the last mating: go now",
            "Freshman 2002 as quoted by a clinic page",
        ),
        (
            "overdue_lh",
            lh_surge_on,
            66,
            "more than 66 days from the LH surge",
            "from the published 64-66 days",
        ),
    )
    found = [
        _ring(key, days_after(checked_day(on, key), limit + 1), basis, source)
        for key, on, limit, basis, source in rules
        if on is not None
    ]
    past = days_after(window.latest_on, 1)
    return [
        *found,
        _ring("window_passed", past, "the 90 % window has passed", "Lopate 2018, Vet Clin Small Anim"),
    ]


def _ring(key: str, on: date, basis: str, source: str) -> Milestone:
    return Milestone(
        key,
        "Ring the vet if she has not begun",
        on,
        on,
        basis,
        source,
        QUOTED,
        "A fetus kept more than about 2 days past its due day outgrows its placenta.",
    )
