"""From a worming scheme and an animal's facts to due dates, and how they move when a dose comes late.

Each animal runs on its own dates: a pup that was under the label's minimum, or forgotten, is dosed late
and its later doses follow at the scheme's gaps from there. Nothing that was missed is ever made up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from health.domain.scheme_steps import PlanFacts, Step, Stepper
from health.domain.worming_schemes import SCHEMES, Scheme

# A dose up to so many days before its date counts for it; common practice, no source.
EARLY_DAYS = 3
MAX_DUE_DATES = 500


class State(StrEnum):
    """What became of one date of a plan."""

    GIVEN = "given"
    PASSED_OVER = "passed over"  # a later date came due before anything was given; it is not made up
    DUE = "due"


@dataclass(frozen=True)
class DueDate:
    """One date of an animal's plan and what became of it.

    gap_days: days the scheme puts between it and the one before (None for the first); a repeat check
    takes it as the plan's gap. given_on: when it was dosed. provisional: it rests on a stand-in for a date
    that is not known yet (weaning, whelping).
    """

    due_on: date
    state: State
    gap_days: int | None = None
    given_on: date | None = None
    provisional: bool = False


@dataclass(frozen=True)
class Plan:
    """A scheme turned into one animal's dates, and doses that belong to none of them."""

    scheme: Scheme
    dates: tuple[DueDate, ...]
    extra_doses_on: tuple[date, ...] = ()

    @property
    def next_due(self) -> DueDate | None:
        """The first date still due; None when there is none up to the horizon."""
        return next((one for one in self.dates if one.state is State.DUE), None)


def plan(scheme: Scheme, facts: PlanFacts, given_on: Sequence[date] = (), today: date | None = None) -> Plan:
    """Due dates of one animal up to `facts.horizon_on`, in view of the days on which it was dosed.

    A dose counts for the last date that had come due by then; dates before it are passed over. Up to
    EARLY_DAYS days early (less for close dates) it counts for the coming one, whose followers stay; late,
    the followers keep their gap to the dose. Ends bound to age, weaning or whelping never move. Any other
    dose is listed as extra. `today` does the same for what is overdue: it can be given today at the
    earliest. Raises ValueError for an event that is not known, or a dose before birth.
    """
    doses = sorted(set(given_on))
    if facts.born_on is not None and doses and doses[0] < facts.born_on:
        raise ValueError("a dose is dated before birth")
    dates: list[DueDate] = []
    extra: list[date] = []
    stepper = Stepper(scheme, facts)
    while (step := stepper.current) is not None:
        if len(dates) == MAX_DUE_DATES:
            raise ValueError(f"more than {MAX_DUE_DATES} dates; choose a nearer horizon")
        while doses and doses[0] < step.due_on - _early(step):
            extra.append(doses.pop(0))
        deadline = doses[0] if doses else today
        following = stepper.peek()
        if deadline is not None and following is not None and following.due_on <= deadline:
            dates.append(_due(step, State.PASSED_OVER))
            stepper.go_on(step.due_on)
        elif doses:
            dates.append(replace(_due(step, State.GIVEN), given_on=doses[0]))
            stepper.go_on(max(step.due_on, doses.pop(0)))
        else:
            dates.append(_due(step, State.DUE))
            stepper.go_on(max(step.due_on, today or step.due_on))
    return Plan(scheme, tuple(dates), (*extra, *doses))


def litter_plans(
    scheme: Scheme,
    facts: PlanFacts,
    given_on_by_pup: dict[str, Sequence[date]],
    today: date | None = None,
) -> dict[str, Plan]:
    """A plan for each pup of a litter: alike until one is dosed late, from then on on its own dates."""
    return {pup: plan(scheme, facts, given_on, today) for pup, given_on in given_on_by_pup.items()}


def scheme_dates(scheme: Scheme, facts: PlanFacts) -> tuple[date, ...]:
    """The scheme's own dates up to `facts.horizon_on`, when every dose is given on its day."""
    return tuple(one.due_on for one in plan(scheme, facts).dates)


def us_label_pyrantel_dates(born_on: date) -> tuple[date, ...]:
    """Days 14, 21, 28, 42, 56 and 70 after birth. Source: 21 CFR 520.2042 (read in the text)."""
    return scheme_dates(SCHEMES["us_label_pyrantel"], PlanFacts(_after(born_on, 100), born_on))


def esccap_fortnightly_dates(born_on: date, weaned_on: date) -> tuple[date, ...]:
    """Every 14 days from day 14 until 14 days after weaning, that day included; empty when weaned before.

    Source: ESCCAP summary (read in the text). Raises ValueError when weaning lies before birth.
    """
    if weaned_on < born_on:
        raise ValueError("weaning lies before birth")
    facts = PlanFacts(_after(weaned_on, 14), born_on, weaned_on)
    return scheme_dates(_first_phase("esccap"), facts)


def capc_dates(born_on: date) -> tuple[date, ...]:
    """Days 14, 28, 42 and 56 after birth, before the monthly part. Source: CAPC, secondary quotation."""
    return scheme_dates(_first_phase("capc"), PlanFacts(_after(born_on, 100), born_on))


def faecal_recheck_window(last_dose_on: date) -> tuple[date, date]:
    """From when to when droppings are tested again after a series: 2 to 4 weeks after its last dose.

    Source: 21 CFR 520.2042 (read in the text).
    """
    return _after(last_dose_on, 14), _after(last_dose_on, 28)


def _first_phase(key: str) -> Scheme:
    return replace(SCHEMES[key], phases=SCHEMES[key].phases[:1])


def _early(step: Step) -> timedelta:
    """How early a dose may come and still count for this date: never as much as half the gap before it."""
    return timedelta(days=EARLY_DAYS if step.gap_days is None else min(EARLY_DAYS, (step.gap_days - 1) // 2))


def _due(step: Step, state: State) -> DueDate:
    return DueDate(step.due_on, state, step.gap_days, provisional=step.provisional)


def _after(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError as error:
        raise ValueError(f"{days} days after {day} lie outside the calendar") from error
