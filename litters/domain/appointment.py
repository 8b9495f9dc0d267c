"""The one visit to the vet that frees most pups of a litter."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from litters.domain.leaving import Clears, Hold, Leaving, VetCheck

HORIZON_DAYS = 180


@dataclass(frozen=True)
class Freed:
    """A pup the visit frees: what is done for it there, and from when on nothing keeps it."""

    pup: str
    leaves_on: date
    done_there: tuple[str, ...]


@dataclass(frozen=True)
class StillKept:
    """A pup the visit does not free, and why."""

    pup: str
    why: tuple[str, ...]


@dataclass(frozen=True)
class Option:
    """The first day on which a visit frees so many pups."""

    on: date
    pups: int


@dataclass(frozen=True)
class Appointment:
    """The day of the visit, whom it frees, whom it does not, and the first day for each smaller number.

    What is only expected (weaning on its planned day) is taken as kept; the texts of the holds say so.
    """

    on: date
    frees: tuple[Freed, ...]
    still_kept: tuple[StillKept, ...]
    options: tuple[Option, ...]


def best_appointment(
    pups: Sequence[Leaving],
    on: date,
    *,
    horizon_days: int = HORIZON_DAYS,
    closed_weekdays: Collection[int] = (),
    closed_on: Collection[date] = (),
) -> Appointment | None:
    """The first day from `on` on which one visit frees most pups; None when no visit frees any.

    A visit frees a pup when everything only a visit can clear is possible on that day (not before a least
    age, not after a window, one dose still to give) and the rest goes away with time or by plan, while what
    the visit gives still counts on the day of leaving. closed_weekdays: 0 Monday to 6 Sunday, with closed_on
    the days the vet does not see pups. Raises ValueError for a horizon outside 1 to 730 days.
    """
    if not 1 <= horizon_days <= 730:
        raise ValueError("the horizon is 1 to 730 days")
    options: list[Option] = []
    for day in (on + timedelta(days=n) for n in range(horizon_days + 1)):
        if day.weekday() in closed_weekdays or day in closed_on:
            continue
        freed = sum(_leaves_on(pup, day) is not None for pup in pups)
        if freed > max((option.pups for option in options), default=0):
            options.append(Option(day, freed))
    if not options:
        return None
    best = options[-1].on
    frees, still_kept = [], []
    for pup in pups:
        leaves_on = _leaves_on(pup, best)
        if leaves_on is not None:
            frees.append(Freed(pup.pup, leaves_on, _done_there(pup, leaves_on)))
        elif pup.open_holds:
            still_kept.append(StillKept(pup.pup, _why_not(pup, best)))
    return Appointment(best, tuple(frees), tuple(still_kept), tuple(options))


def _visit_holds(pup: Leaving) -> list[Hold]:
    return [hold for hold in pup.open_holds if hold.clears is Clears.VISIT]


def _leaves_on(pup: Leaving, visit_on: date) -> date | None:
    """From when on nothing keeps a pup after a visit on that day; None when the visit does not free it."""
    visits = _visit_holds(pup)
    others = [hold.on for hold in pup.open_holds if hold.clears is not Clears.VISIT]
    dated = [one for one in others if one is not None]
    if not visits or len(dated) < len(others) or any(_missed(hold, visit_on) for hold in visits):
        return None
    leaves_on = max([visit_on, *dated, *(visit_on + timedelta(days=hold.wait_days) for hold in visits)])
    if _needs_another_look(pup, leaves_on) and not VetCheck(visit_on, _valid_days(pup)).holds_on(leaves_on):
        return None
    return leaves_on


def _needs_another_look(pup: Leaving, leaves_on: date) -> bool:
    return pup.check is not None and not pup.check.holds_on(leaves_on)


def _valid_days(pup: Leaving) -> int | None:
    return None if pup.check is None else pup.check.valid_days


def _done_there(pup: Leaving, leaves_on: date) -> tuple[str, ...]:
    texts = [hold.text for hold in _visit_holds(pup)]
    if _needs_another_look(pup, leaves_on) and "vet_check" not in {hold.key for hold in pup.holds}:
        texts.append(f"The vet looks at it again: the earlier look does not hold until {leaves_on}.")
    return tuple(texts)


def _missed(hold: Hold, visit_on: date) -> str:
    """Why a visit on that day does not clear a hold; empty when it does."""
    if hold.on is not None and visit_on < hold.on:
        return f"possible from {hold.on} on"
    if hold.until_on is not None and visit_on > hold.until_on:
        return f"no longer possible after {hold.until_on}"
    return f"takes {hold.visits} visits" if hold.visits > 1 else ""


def _why_not(pup: Leaving, visit_on: date) -> tuple[str, ...]:
    reasons = []
    for hold in pup.open_holds:
        if hold.clears is Clears.VISIT:
            missed = _missed(hold, visit_on)
            if missed:
                reasons.append(f"{hold.text} ({missed})")
        elif hold.on is None:
            reasons.append(hold.text)
    if not reasons and not _visit_holds(pup):
        return ("Needs no visit: " + " ".join(hold.text for hold in pup.open_holds),)
    return tuple(reasons) or ("What the visit gives would no longer count on the day it can leave.",)
