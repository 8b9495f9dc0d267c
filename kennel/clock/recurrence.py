"""When something recurs: elapsed time (`Every`) or wall time on rule days (`At`), never a mixture.

`Every` counts real hours in UTC: a bottle each two hours stays two hours apart on the night the clocks
change. `At` counts local dates and then resolves a time of day in the kennel's zone: a dose "at eight"
stays at eight. Rule days follow the RFC 5545 recurrence rules named in `Frequency`; the times follow
section 3.3.5 (a skipped time moves forward), not 3.3.10 (which would drop it).
"""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from kennel.clock.wall_clock import Zone, as_utc, instant_of, is_skipped, local_day, zone_of

MAX_OCCURRENCES = 100_000  # one call; a year of a bottle every five minutes
_MAX_INTERVAL = 1_000


class Frequency(StrEnum):
    """How the days of an `At` rule are counted; values as in RFC 5545."""

    DAILY = "DAILY"
    WEEKLY = "WEEKLY"
    MONTHLY = "MONTHLY"


@dataclass(frozen=True)
class Every:
    """Elapsed time: `anchor_at`, then again after each `interval`, counted in UTC.

    With `from_completion` only the next one is known: the last time it was done plus `interval`
    (`anchor_at` while it was never done). `until_at` ends it (that instant excluded), `count` after so
    many from the anchor. Raises ValueError for an interval that is not whole seconds between a minute
    and ten years, an instant without offset, or a count together with `from_completion`, which has no
    numbers to count.
    """

    interval: timedelta
    anchor_at: datetime
    from_completion: bool = False
    until_at: datetime | None = None
    count: int | None = None

    def __post_init__(self) -> None:
        if not timedelta(minutes=1) <= self.interval <= timedelta(days=3653) or self.interval.microseconds:
            raise ValueError("an interval is whole seconds, at least one minute and at most ten years")
        as_utc(self.anchor_at)
        if self.until_at is not None:
            as_utc(self.until_at)
        _require_count(self.count)
        if self.from_completion and self.count is not None:
            raise ValueError("a schedule that runs from completion cannot end after a count")


@dataclass(frozen=True)
class At:
    """Wall times (whole minutes) on rule days, from `first_on` on.

    frequency: DAILY; WEEKLY on `weekdays` (0 Monday to 6 Sunday, as `date.weekday`; none = the weekday
    of `first_on`); MONTHLY on `month_days` (1 to 31, or -1 for the last day to -31; none = the day of
    `first_on`; months without that day are passed over, RFC 5545 3.3.10). `interval` steps days, weeks
    that begin on Monday, or months, counted from `first_on`. `count` counts single times, not days;
    `until_on` is the last day, included. Raises ValueError for anything else.
    """

    frequency: Frequency
    wall_times: tuple[time, ...]
    first_on: date
    interval: int = 1
    weekdays: tuple[int, ...] = ()
    month_days: tuple[int, ...] = ()
    count: int | None = None
    until_on: date | None = None

    def __post_init__(self) -> None:
        if not self.wall_times or any(one.tzinfo is not None for one in self.wall_times):
            raise ValueError("a rule needs at least one wall time, and wall times carry no zone")
        if any(one.second or one.microsecond for one in self.wall_times):
            raise ValueError("a wall time is given in whole minutes")
        if len({one.replace(fold=0) for one in self.wall_times}) != len(self.wall_times):
            raise ValueError("a wall time is named twice")
        if not 1 <= self.interval <= _MAX_INTERVAL:
            raise ValueError(f"interval must be 1 to {_MAX_INTERVAL}")
        if self.weekdays and self.frequency is not Frequency.WEEKLY:
            raise ValueError("weekdays belong to a weekly rule")
        if self.month_days and self.frequency is not Frequency.MONTHLY:
            raise ValueError("days of the month belong to a monthly rule")
        if any(not 0 <= one <= 6 for one in self.weekdays):
            raise ValueError("a weekday is 0 (Monday) to 6 (Sunday)")
        if any(one == 0 or not -31 <= one <= 31 for one in self.month_days):
            raise ValueError("a day of the month is 1 to 31, or -1 to -31 counted from its end")
        _require_count(self.count)
        if self.count is not None and self.until_on is not None:
            raise ValueError("a rule ends after a count or on a day, not both")  # RFC 5545 3.3.10


Rule = Every | At


@dataclass(frozen=True)
class Occurrence:
    """One time a rule asks for something.

    at: the instant, UTC. key: names it within its rule for good, also when zone data change the instant
    later: "n=12" for elapsed time, "2026-03-29T02:30" (the wall time asked for) for wall time,
    "after=..." for completion. moved: how far a skipped wall time was moved forward, else zero.
    """

    at: datetime
    key: str
    moved: timedelta = timedelta(0)


def expand(
    rule: Rule,
    start: datetime,
    until: datetime,
    *,
    zone: Zone | None = None,
    last_done_at: datetime | None = None,
) -> tuple[Occurrence, ...]:
    """Every occurrence of `rule` from `start` (included) until `until` (excluded), in order of time.

    zone: the kennel's, needed for `At`. last_done_at: when a `from_completion` schedule was last done.
    Where a change of clocks lays two wall times on one instant (01:30 moved onto 02:30, a whole day a
    zone skips), it happens once, under the time the clocks really show. Raises ValueError for bare
    date-times, a missing zone, or more than MAX_OCCURRENCES.
    """
    first, last = as_utc(start), as_utc(until)
    if isinstance(rule, Every):
        return _expand_every(rule, first, last, last_done_at)
    if zone is None:
        raise ValueError("wall times need a zone")
    return _expand_at(rule, first, last, zone)


def rule_days(rule: At, first_on: date, last_on: date) -> Iterator[date]:
    """The days of `rule` from `first_on` to `last_on`, both included; ignores `count`."""
    begin = max(first_on, rule.first_on)
    end = min(last_on, rule.until_on or last_on)
    if begin > end:
        return
    days = {Frequency.DAILY: _daily, Frequency.WEEKLY: _weekly, Frequency.MONTHLY: _monthly}[rule.frequency]
    yield from (day for day in days(rule, begin, end) if begin <= day <= end)


def _expand_every(
    rule: Every, start: datetime, until: datetime, last_done_at: datetime | None
) -> tuple[Occurrence, ...]:
    end = until if rule.until_at is None else min(until, as_utc(rule.until_at))
    anchor = as_utc(rule.anchor_at)
    if rule.from_completion:
        if last_done_at is None:
            next_one = Occurrence(anchor, "n=0")
        else:
            done = as_utc(last_done_at)
            next_one = Occurrence(done + rule.interval, f"after={done.isoformat()}")
        return (next_one,) if start <= next_one.at < end else ()
    number = max(0, -((anchor - start) // rule.interval))  # first n with anchor + n * interval >= start
    stop = max(number, -((anchor - end) // rule.interval))
    if rule.count is not None:
        stop = min(stop, rule.count)
    if stop - number > MAX_OCCURRENCES:
        raise ValueError(f"more than {MAX_OCCURRENCES} occurrences; ask for a shorter stretch of time")
    return tuple(Occurrence(anchor + n * rule.interval, f"n={n}") for n in range(number, stop))


def _expand_at(rule: At, start: datetime, until: datetime, zone: Zone) -> tuple[Occurrence, ...]:
    if until <= start:
        return ()
    # Two days of margin: a zone may skip a whole date, which moves what was due on it by up to a day.
    margin = timedelta(days=2)
    try:
        first_on, last_on = local_day(start, zone) - margin, local_day(until, zone) + margin
    except OverflowError as error:
        raise ValueError("the stretch of time leaves years 1 to 9999") from error
    by_instant: dict[datetime, Occurrence] = {}
    for day, wall_time in _nominal_times(rule, first_on, last_on):
        one = _resolve(day, wall_time, zone)
        held = by_instant.get(one.at)
        if held is None or (held.moved and not one.moved):
            by_instant[one.at] = one
    return tuple(by_instant[at] for at in sorted(by_instant) if start <= at < until)


def _nominal_times(rule: At, first_on: date, last_on: date) -> Iterator[tuple[date, time]]:
    """Wall times asked for between two days, `count` applied from the very first one."""
    wall_times = sorted(one.replace(fold=0) for one in rule.wall_times)
    begin = rule.first_on if rule.count is not None else first_on
    # `count` is bounded by MAX_OCCURRENCES, so that counting from the first day stays cheap.
    produced = 0
    for day in rule_days(rule, begin, last_on):
        for wall_time in wall_times:
            if produced == rule.count:
                return
            produced += 1
            if day >= first_on:
                yield day, wall_time
        if rule.count is None and produced > MAX_OCCURRENCES:
            raise ValueError(f"more than {MAX_OCCURRENCES} occurrences; ask for a shorter stretch of time")


def _resolve(day: date, wall_time: time, zone: Zone) -> Occurrence:
    at = instant_of(day, wall_time, zone)
    key = datetime.combine(day, wall_time).isoformat(timespec="minutes")
    if not is_skipped(day, wall_time, zone):
        return Occurrence(at, key)
    shown = at.astimezone(zone_of(zone)).replace(tzinfo=None, fold=0)
    return Occurrence(at, key, moved=shown - datetime.combine(day, wall_time))


def _daily(rule: At, begin: date, end: date) -> Iterator[date]:
    skipped = -(-(begin - rule.first_on).days // rule.interval)
    ordinal = rule.first_on.toordinal() + skipped * rule.interval
    for one in range(ordinal, end.toordinal() + 1, rule.interval):
        yield date.fromordinal(one)


def _weekly(rule: At, begin: date, end: date) -> Iterator[date]:
    weekdays = sorted(set(rule.weekdays)) or [rule.first_on.weekday()]
    monday = rule.first_on.toordinal() - rule.first_on.weekday()
    step = 7 * rule.interval
    week = monday + (begin.toordinal() - monday) // step * step
    while week <= end.toordinal():
        for weekday in weekdays:
            if 1 <= week + weekday <= date.max.toordinal():
                yield date.fromordinal(week + weekday)
        week += step


def _monthly(rule: At, begin: date, end: date) -> Iterator[date]:
    wanted = rule.month_days or (rule.first_on.day,)
    origin = rule.first_on.year * 12 + rule.first_on.month - 1
    month = origin + ((begin.year * 12 + begin.month - 1) - origin) // rule.interval * rule.interval
    while month <= end.year * 12 + end.month - 1:
        year, index = divmod(month, 12)
        length = calendar.monthrange(year, index + 1)[1]
        # 31 and -1 may name the same day: it counts once.
        days = {one if one > 0 else length + 1 + one for one in wanted}
        for day in sorted(one for one in days if 1 <= one <= length):
            yield date(year, index + 1, day)
        month += rule.interval


def _require_count(count: int | None) -> None:
    if count is not None and not 1 <= count <= MAX_OCCURRENCES:
        raise ValueError(f"a count is 1 to {MAX_OCCURRENCES}")
