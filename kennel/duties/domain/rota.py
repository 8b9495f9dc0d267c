"""Who is on duty at an instant, from shifts in wall time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from kennel.clock.wall_clock import Zone, instant_of, last_instant_of, local_day


@dataclass(frozen=True)
class ShiftTimes:
    """A shift: it begins on each day from first_on to last_on that is one of weekdays (none = every day).

    It ends on the next day when until_time is not after from_time; equal times mean the whole day.
    """

    carer_id: int
    first_on: date
    last_on: date | None
    from_time: time
    until_time: time
    weekdays: tuple[int, ...] = ()
    rank: int = 1


@dataclass(frozen=True)
class OnDuty:
    """A carer on duty: with which rank, since when and until when."""

    carer_id: int
    rank: int
    since: datetime
    until: datetime


def on_duty(shifts: Iterable[ShiftTimes], at: datetime, zone: Zone) -> list[OnDuty]:
    """Carers on duty at an instant, by rank, then by who began first; each once, with the best rank.

    An end that the autumn change repeats is its second passing, so that a shift lasts through the whole
    night.
    """
    found: dict[int, OnDuty] = {}
    for shift in shifts:
        for since, until in spans(shift, at, zone):
            if since <= at < until:
                held = found.get(shift.carer_id)
                one = OnDuty(shift.carer_id, shift.rank, since, until)
                if held is None or (one.rank, one.since) < (held.rank, held.since):
                    found[shift.carer_id] = one
    return sorted(found.values(), key=lambda one: (one.rank, one.since, one.carer_id))


def spans(shift: ShiftTimes, around: datetime, zone: Zone) -> Iterator[tuple[datetime, datetime]]:
    """The stretches of a shift that begin within two days before an instant."""
    today = local_day(around, zone)
    for back in (2, 1, 0):
        day = today - timedelta(days=back)
        if day < shift.first_on or (shift.last_on is not None and day > shift.last_on):
            continue
        if shift.weekdays and day.weekday() not in shift.weekdays:
            continue
        over_midnight = shift.until_time <= shift.from_time
        last_day = day + timedelta(days=1) if over_midnight else day
        yield instant_of(day, shift.from_time, zone), last_instant_of(last_day, shift.until_time, zone)
