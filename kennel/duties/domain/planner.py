"""The planner: (schedules, occurrences, now) -> which occurrences to make, to keep and to call off.

Everything it decides follows from its arguments, so a lost or doubled tick, or two schedulers, change
nothing: what was made once is found among the occurrences by its key and not made again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from kennel.clock.recurrence import Every, Rule, expand
from kennel.clock.wall_clock import Zone, as_utc, instant_of

AHEAD = timedelta(hours=72)
LOOK_BACK = timedelta(days=7)
DEFERRED = "defer="
_DAY_MARGIN = timedelta(days=2)  # a zone may move an occurrence by a whole day


@dataclass(frozen=True)
class Schedule:
    """A routine: its rule, between which instants it runs (end excluded), and how far it was planned before.

    planned_until: None for a new one; nothing is made for the time before it existed.  last_done_at: what
    counts for a rule that runs from completion.  waits: whether one of its occurrences is still open.
    """

    routine_id: int
    rule: Rule
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    planned_until: datetime | None = None
    last_done_at: datetime | None = None
    waits: bool = False
    is_active: bool = True


@dataclass(frozen=True)
class Existing:
    """An occurrence that is stored.

    can_change: it lies ahead, is unsent, and nobody has deleted or closed it.
    """

    routine_id: int
    key: str
    due_at: datetime
    can_change: bool


@dataclass(frozen=True)
class Wanted:
    """An occurrence as it should be: to be made, or to stay (at another instant when zones change)."""

    routine_id: int
    key: str
    due_at: datetime


@dataclass(frozen=True)
class Plan:
    """What to do: occurrences to create, to keep (each still to be filled with what it asks), to cancel."""

    create: tuple[Wanted, ...]
    keep: tuple[Wanted, ...]
    cancel: tuple[Existing, ...]


def plan(
    schedules: Iterable[Schedule],
    existing: Sequence[Existing],
    now: datetime,
    zone: Zone,
    ahead: timedelta = AHEAD,
) -> Plan:
    """What to make, keep and call off so that each schedule is planned until `now + ahead`.

    existing: all stored occurrences of these schedules from `LOOK_BACK` before now on.  After a long stop the
    occurrences since `planned_until` are made too (at most LOOK_BACK of them), so that what was missed is
    seen. Occurrences that were put off by hand (key "defer=...") always stay.
    """
    by_routine: dict[int, dict[str, Existing]] = {}
    for one in existing:
        by_routine.setdefault(one.routine_id, {})[one.key] = one
    create: list[Wanted] = []
    keep: list[Wanted] = []
    cancel: list[Existing] = []
    for schedule in schedules:
        stored = by_routine.get(schedule.routine_id, {})
        wanted = {w.key: w for w in _wanted(schedule, now, zone, ahead)}
        create += [w for w in wanted.values() if w.key not in stored]
        for one in stored.values():
            if not one.can_change:
                continue
            if one.key.startswith(DEFERRED):
                keep.append(Wanted(one.routine_id, one.key, one.due_at))
            elif one.key in wanted:
                keep.append(wanted[one.key])
            else:
                cancel.append(one)
    return Plan(tuple(create), tuple(keep), tuple(cancel))


def _wanted(schedule: Schedule, now: datetime, zone: Zone, ahead: timedelta) -> list[Wanted]:
    if not schedule.is_active:
        return []
    begin = now if schedule.planned_until is None else min(now, schedule.planned_until)
    begin = max(begin, now - LOOK_BACK)
    end = now + ahead
    if schedule.starts_at is not None:
        begin = max(begin, schedule.starts_at)
    if schedule.ends_at is not None:
        end = min(end, schedule.ends_at)
    if isinstance(schedule.rule, Every) and schedule.rule.from_completion:
        return _after_completion(schedule, schedule.rule, now, begin, end)
    found = expand(schedule.rule, begin, end, zone=zone) if begin < end else ()
    return [Wanted(schedule.routine_id, one.key, one.at) for one in found]


def _after_completion(
    schedule: Schedule, rule: Every, now: datetime, begin: datetime, end: datetime
) -> list[Wanted]:
    """The one next occurrence.  Overdue when planned (never done, or long ago): due now, not in the past."""
    # From the very first instant it could be due, so that an overdue one is found too.
    earliest = min(as_utc(rule.anchor_at), begin, schedule.last_done_at or begin) - _DAY_MARGIN
    found = expand(rule, earliest, end, last_done_at=schedule.last_done_at) if earliest < end else ()
    if schedule.waits:
        # The open one stays as it is until it is done; one that lies ahead keeps its place.
        return [Wanted(schedule.routine_id, one.key, one.at) for one in found if one.at > now]
    moved = [Wanted(schedule.routine_id, one.key, max(one.at, begin, now)) for one in found]
    return [one for one in moved if one.due_at < end]


def bounds(
    starts_at: datetime | None,
    ends_at: datetime | None,
    day_zero_on: date | None,
    from_age_days: int | None,
    until_age_days: int | None,
    zone: Zone,
) -> tuple[datetime | None, datetime | None]:
    """The instants between which a routine runs, from its dates and from ages in completed days.

    until_age_days is the last day, included.  The narrower of dates and ages counts.
    """
    start, end = starts_at, ends_at
    if day_zero_on is not None and from_age_days is not None:
        first = instant_of(day_zero_on + timedelta(days=from_age_days), time.min, zone)
        start = first if start is None else max(start, first)
    if day_zero_on is not None and until_age_days is not None:
        after = instant_of(day_zero_on + timedelta(days=until_age_days + 1), time.min, zone)
        end = after if end is None else min(end, after)
    return start, end
