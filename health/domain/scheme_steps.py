"""Walks through a scheme's dates one by one, going on from the day a dose was really given."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, timedelta

from health.domain.worming_schemes import Anchor, Phase, Scheme
from litters.domain.calendar_days import checked_day
from litters.domain.calendar_steps import months_after

# Weaning counts as 7 weeks while its day is not known; common practice, no source, editable.
DEFAULT_WEANING_DAYS = 49
# Whelping counts as 63 days after the first mating while it is not known: a stand-in only.
DEFAULT_GESTATION_DAYS = 63
# The pups' first dose counts as 2 weeks after whelping while it is not known: every scheme begins there.
FIRST_DOSE_DAYS = 14


@dataclass(frozen=True)
class PlanFacts:
    """What is known of an animal (for a dam: of her pregnancy and litter) when dates are worked out.

    horizon_on: the last date asked for. weaning_days, gestation_days: stand-ins while the real dates are
    not known; dates that rest on them are marked provisional. Raises ValueError for anything but calendar
    dates of the years 1900 to 2199.
    """

    horizon_on: date
    born_on: date | None = None
    weaned_on: date | None = None
    mated_on: date | None = None
    whelped_on: date | None = None
    pups_first_dose_on: date | None = None
    plan_starts_on: date | None = None
    weaning_days: int = DEFAULT_WEANING_DAYS
    gestation_days: int = DEFAULT_GESTATION_DAYS

    def __post_init__(self) -> None:
        for name in (field.name for field in fields(self) if field.name.endswith("_on")):
            if getattr(self, name) is not None:
                checked_day(getattr(self, name), name)
        if not (1 <= self.weaning_days <= 120 and 50 <= self.gestation_days <= 75):
            raise ValueError("weaning is counted as 1 to 120 days, pregnancy as 50 to 75")


@dataclass(frozen=True)
class Step:
    """The date that is next: when, how many days lie before it, and whether it may still move."""

    due_on: date
    gap_days: int | None
    provisional: bool


@dataclass(frozen=True)
class _Position:
    """Where in the scheme: the phase, how many of its dates are past, and from where they are counted."""

    phase: int
    number: int  # 0 = the first date of the phase is next
    origin: date  # repeats count from here, so that months do not drift from the 31st to the 28th
    repeats: int


class Stepper:
    """The dates of a scheme in order; each `go_on` says from which day the next one is counted.

    Raises ValueError at once, or when reaching a phase, whose event is not known.
    """

    def __init__(self, scheme: Scheme, facts: PlanFacts) -> None:
        self._phases = scheme.phases
        self._facts = facts
        self._position: _Position | None = None
        self.current: Step | None = None
        self._position, self.current = self._enter(0, None)

    def peek(self) -> Step | None:
        """The date after the current one, if the current one is given on its day."""
        if self.current is None:
            return None
        return self._next(self.current.due_on)[1]

    def go_on(self, counted_from: date) -> None:
        """Leave the current date behind; its followers keep their gap to `counted_from`."""
        if self.current is not None:
            self._position, self.current = self._next(counted_from)

    def _next(self, counted_from: date) -> tuple[_Position | None, Step | None]:
        position = self._position
        if position is None or self.current is None:
            return None, None
        phase = self._phases[position.phase]
        number = position.number + 1
        if phase.days:
            if number == len(phase.days):
                return self._enter(position.phase + 1, counted_from)
            gap = phase.days[number] - phase.days[number - 1]
            due_on = counted_from + timedelta(days=gap)
            return self._at(_Position(position.phase, number, due_on, 0), due_on, counted_from)
        on_time = counted_from == self.current.due_on
        origin = position.origin if on_time else counted_from
        repeats = position.repeats + 1 if on_time else 1
        due_on = _repeated(phase, origin, repeats)
        return self._at(_Position(position.phase, number, origin, repeats), due_on, counted_from)

    def _enter(self, index: int, previous: date | None) -> tuple[_Position | None, Step | None]:
        """The first date of phase `index` after `previous`."""
        if index == len(self._phases):
            return None, None
        phase = self._phases[index]
        start, _ = _event(phase.anchor, self._facts, previous)
        if phase.days:
            candidates = [(number, start + timedelta(days=days)) for number, days in enumerate(phase.days)]
            later = [one for one in candidates if previous is None or one[1] > previous]
            if not later:
                return self._enter(index + 1, previous)
            number, due_on = later[0]
            return self._at(_Position(index, number, due_on, 0), due_on, previous)
        first = months_after(start, phase.first_months) + timedelta(days=phase.first_days)
        due_on, repeats = first, 0
        while previous is not None and due_on <= previous:
            repeats += 1
            due_on = _repeated(phase, first, repeats)
        return self._at(_Position(index, 0, first, repeats), due_on, previous)

    def _at(
        self, position: _Position, due_on: date, previous: date | None
    ) -> tuple[_Position | None, Step | None]:
        """The position and its step, or the next phase where this one has ended."""
        phase = self._phases[position.phase]
        stand_in_from: date | None = None
        if phase.end is not None:
            event_on, stand_in = _event(phase.end.anchor, self._facts, previous)
            if due_on > months_after(event_on, phase.end.months) + timedelta(days=phase.end.days):
                return self._enter(position.phase + 1, previous)
            stand_in_from = event_on if stand_in else None
        if due_on > self._facts.horizon_on:
            return None, None
        gap_days = None if previous is None else (due_on - previous).days
        return position, Step(due_on, gap_days, self._is_provisional(position.phase, due_on, stand_in_from))

    def _is_provisional(self, index: int, due_on: date, stand_in_from: date | None) -> bool:
        if stand_in_from is not None and due_on > stand_in_from:
            return True
        for phase in self._phases[: index + 1]:
            anchors = [phase.anchor] if phase is self._phases[index] else [phase.anchor, *_end_anchor(phase)]
            if any(one is not Anchor.PREVIOUS and _event(one, self._facts, due_on)[1] for one in anchors):
                return True
        return False


def _end_anchor(phase: Phase) -> list[Anchor]:
    return [] if phase.end is None else [phase.end.anchor]


def _repeated(phase: Phase, origin: date, repeats: int) -> date:
    if phase.every_months is not None:
        return months_after(origin, phase.every_months * repeats)
    return origin + timedelta(days=(phase.every_days or 0) * repeats)


def _event(anchor: Anchor, facts: PlanFacts, previous: date | None) -> tuple[date, bool]:
    """The date of an event, and whether it is only a stand-in. Raises ValueError when there is neither."""
    known = {
        Anchor.BIRTH: facts.born_on,
        Anchor.WEANING: facts.weaned_on,
        Anchor.MATING: facts.mated_on,
        Anchor.WHELPING: facts.whelped_on,
        Anchor.PUPS_FIRST_DOSE: facts.pups_first_dose_on,
        Anchor.PLAN_START: facts.plan_starts_on,
        Anchor.PREVIOUS: previous,
    }[anchor]
    if known is not None:
        return known, False
    stand_ins = {
        Anchor.WEANING: (facts.born_on, facts.weaning_days),
        Anchor.WHELPING: (facts.mated_on, facts.gestation_days),
        Anchor.PUPS_FIRST_DOSE: (facts.whelped_on, FIRST_DOSE_DAYS),
    }
    counted_from, days = stand_ins.get(anchor, (None, 0))
    if counted_from is None:
        raise ValueError(f"the scheme counts from {anchor.value}, whose date is not known")
    return counted_from + timedelta(days=days), True
