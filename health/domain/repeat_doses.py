"""Whether a dose comes too soon after the last one, judged by the product and the plan together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from health.domain.advice import Advice, Level
from health.domain.medicine import Medicine
from health.domain.units import plain, positive

# A dose due "on day 14" at any hour is on time; common practice, no source.
DAY_SLACK = timedelta(hours=12)
# A daily dose at the same wall time comes after 23 hours when clocks go forward; common practice, no source.
NEARLY = 0.9
# Doses of a course that lie further apart than this many intervals are no longer one course.
COURSE_BREAK = 1.5


@dataclass(frozen=True)
class PastDose:
    """A dose that was given: product and active by name, when (aware), how much and by whom.

    dose_mg in the terms the product states its doses in; None where it was not written down.
    kept: False when it was spat out or vomited.
    """

    medicine: str
    active: str
    given_at: datetime
    dose_mg: float | None = None
    given_by: str = ""
    kept: bool = True


def repeat_dose_warning(last_at: datetime, now_at: datetime, interval_h: float) -> bool:
    """Whether a dose now would come within `interval_h` hours of the last one (exactly then: no warning).

    Real elapsed hours, so both instants need an offset; a last dose in the future (clocks of two devices)
    warns too. Raises ValueError for bare date-times or an interval that is not above zero.
    Rule: warn while elapsed < interval; common practice, no source.
    """
    if last_at.utcoffset() is None or now_at.utcoffset() is None:
        raise ValueError("instants need an offset")
    return now_at - last_at < timedelta(hours=positive(interval_h, "interval in hours", 24 * 3660))


def repeat_advice(
    medicine: Medicine, past: Sequence[PastDose], at: datetime, plan_gap_days: float | None = None
) -> tuple[Advice, ...]:
    """What to say before `medicine` is given again at `at`, in view of what the animal already had.

    The label's interval warns; the plan's gap is a notice, or the warning where the label names none. A
    product is checked against its own doses: another product's longer interval is never applied to it.
    Other products with the same active are said aloud. past: this animal's doses, any order.
    """
    if plan_gap_days is not None:
        positive(plan_gap_days, "the plan's gap in days", 3660)
    own = sorted((one for one in past if one.medicine == medicine.name), key=lambda one: one.given_at)
    found: list[Advice] = []
    if own:
        found += _spat_out(own[-1], at)
        course = _last_course(medicine, own)
        if len(course) < medicine.course_days:
            found += _within_course(medicine, course, at)
        else:
            found += _after_course(medicine, course, at, plan_gap_days)
    found += _same_active_elsewhere(medicine, past, at)
    return tuple(found)


def course_ends_at(
    given_at: Sequence[datetime], course_days: int, dose_interval_h: float, at: datetime
) -> datetime | None:
    """When the last dose of a course that is going on falls; None when none is.

    given_at: this animal's doses of the product, in any order. A course goes on while doses of it are left
    and the next one is at most half an interval late. Rule: common practice, no source.
    """
    doses = sorted(one for one in given_at if one <= at)
    interval = timedelta(hours=positive(dose_interval_h, "interval in hours", 24 * 3660))
    given = _hang_together(doses, course_days, interval * COURSE_BREAK)
    left = course_days - given
    if not doses or left <= 0 or at - doses[-1] > interval * COURSE_BREAK:
        return None
    return doses[-1] + interval * left


def ago_in_words(earlier: datetime, later: datetime) -> str:
    """How long ago, in the largest unit that still says something: "35 min ago", "3 h ago", "2 days ago"."""
    minutes = max(0, math.floor((later - earlier).total_seconds() / 60))
    if minutes < 120:
        return f"{minutes} min ago"
    if minutes < 48 * 60:
        return f"{minutes // 60} h ago"
    return f"{minutes // 1440} days ago"


def _last_course(medicine: Medicine, own: Sequence[PastDose]) -> list[PastDose]:
    """The doses that hang together with the newest one, newest last, at most one course of them."""
    reach = timedelta(hours=medicine.dose_interval_h * COURSE_BREAK)
    length = _hang_together([one.given_at for one in own], medicine.course_days, reach)
    return list(own[-length:])


def _hang_together(given_at: Sequence[datetime], most: int, reach: timedelta) -> int:
    """How many of the newest instants (in rising order) lie within `reach` of each other, `most` at most."""
    count = min(1, len(given_at))
    while count < min(most, len(given_at)) and given_at[-count] - given_at[-count - 1] <= reach:
        count += 1
    return count


def _within_course(medicine: Medicine, course: Sequence[PastDose], at: datetime) -> list[Advice]:
    last = course[-1]
    elapsed, interval = at - last.given_at, timedelta(hours=medicine.dose_interval_h)
    if elapsed < interval:
        # An hour early at a change of clocks deserves a second look; a second dose the same day a warning.
        level = Level.NOTICE if elapsed >= interval * NEARLY else Level.WARNING
        wait = f"{plain(medicine.dose_interval_h)} h between the doses of this course"
        return [_too_soon(level, medicine, last, at, wait)]
    if elapsed > interval * COURSE_BREAK:
        return [
            Advice(
                Level.NOTICE,
                "course_interrupted",
                f"Only {len(course)} of {medicine.course_days} doses of the last course are recorded, the "
                f"last {ago_in_words(last.given_at, at)}. Do not make up doses: ask the vet if it counts.",
            )
        ]
    return []


def _after_course(
    medicine: Medicine, course: Sequence[PastDose], at: datetime, plan_gap_days: float | None
) -> list[Advice]:
    label = _days(medicine.repeat_after_days)
    plan = _days(plan_gap_days)
    since_start, since_last = at - course[0].given_at, at - course[-1].given_at
    if label is not None and since_start < label:
        wait = f"the label asks for {plain(medicine.repeat_after_days or 0)} days from one course to the next"
        return [_too_soon(Level.WARNING, medicine, course[-1], at, wait)]
    if since_last < timedelta(hours=medicine.dose_interval_h) * NEARLY:
        return [_too_soon(Level.WARNING, medicine, course[-1], at, "it was given within the last day")]
    if plan is not None and since_start < plan:
        level = Level.NOTICE if label is not None else Level.WARNING
        wait = f"the plan has {plain(plan_gap_days or 0)} days from one to the next"
        return [_too_soon(level, medicine, course[-1], at, wait, "the kennel's plan")]
    return []


def _same_active_elsewhere(medicine: Medicine, past: Sequence[PastDose], at: datetime) -> list[Advice]:
    others = [
        one
        for one in past
        if one.medicine != medicine.name and one.active.casefold() == medicine.active.casefold()
    ]
    if not others:
        return []
    last = max(others, key=lambda one: one.given_at)
    wait = _days(medicine.repeat_after_days) or timedelta(hours=medicine.dose_interval_h)
    if at - last.given_at >= wait:
        return []
    return [
        Advice(
            Level.WARNING,
            "same_active_in_another_product",
            f"{last.medicine} was given {ago_in_words(last.given_at, at)}{_by(last)}; it holds "
            f"{medicine.active} too.",
        )
    ]


def _spat_out(last: PastDose, at: datetime) -> list[Advice]:
    if last.kept:
        return []
    return [
        Advice(
            Level.NOTICE,
            "last_dose_not_kept",
            f"The dose {ago_in_words(last.given_at, at)} was recorded as spat out or vomited. How much "
            "was taken in is not known: the vet decides whether to give it again.",
        )
    ]


def _too_soon(
    level: Level, medicine: Medicine, last: PastDose, at: datetime, why: str, source: str = ""
) -> Advice:
    text = f"{medicine.name} was given {ago_in_words(last.given_at, at)}{_by(last)}; {why}."
    return Advice(level, "given_recently", text, source or medicine.source or "common practice, no source")


def _by(dose: PastDose) -> str:
    return f" by {dose.given_by}" if dose.given_by else ""


def _days(days: float | None) -> timedelta | None:
    """Days as elapsed time, less the slack that makes "on that day" on time at any hour."""
    return None if days is None else timedelta(days=days) - min(DAY_SLACK, timedelta(days=days) / 2)
