"""Wall time to instants and back: the only place where a zone's rules are applied.

Skipped and repeated times follow RFC 5545 section 3.3.5: a time that a zone skips is read with the
offset before the gap (so it moves forward by the gap), a time that occurs twice means the first one.
Durations are added to instants in UTC, calendar steps to dates; nothing else is safe across a change
of clocks.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

Zone = ZoneInfo | str


def zone_of(zone: Zone) -> ZoneInfo:
    """The zone by its IANA name, or the zone itself.

    Raises ValueError for a name that the zone data does not hold.
    """
    if isinstance(zone, ZoneInfo):
        return zone
    try:
        return ZoneInfo(zone)
    except (KeyError, OSError) as error:  # ZoneInfoNotFoundError is a KeyError; a folder's name an OSError
        raise ValueError(f"unknown time zone {zone!r}") from error


def instant_of(day: date, wall_time: time, zone: Zone) -> datetime:
    """The instant (aware, UTC) at which clocks in `zone` show `wall_time` on `day`.

    A skipped time moves forward by the gap and is never dropped; of a repeated time the first is meant,
    whatever `fold` says. A day that a zone skips whole (Samoa, 30 December 2011) moves to the next day.
    Raises ValueError for an aware wall time, an unknown zone, or a result outside years 1 to 9999.
    """
    if wall_time.tzinfo is not None:
        raise ValueError("a wall time carries no zone of its own")
    return _resolved(day, wall_time, zone_of(zone), fold=0)


def last_instant_of(day: date, wall_time: time, zone: Zone) -> datetime:
    """Like `instant_of`, but of a repeated time the second one.

    For ends: what lasts until 01:30 has not ended when 01:30 comes by for the first time.
    """
    if wall_time.tzinfo is not None:
        raise ValueError("a wall time carries no zone of its own")
    place = zone_of(zone)
    # In a gap it is fold=0 that lies later, in a repeated hour fold=1: the later of both is right in each.
    return max(_resolved(day, wall_time, place, fold=fold) for fold in (0, 1))


def is_skipped(day: date, wall_time: time, zone: Zone) -> bool:
    """Whether clocks in `zone` never show `wall_time` on `day`."""
    shown = instant_of(day, wall_time, zone).astimezone(zone_of(zone)).replace(tzinfo=None, fold=0)
    return shown != datetime.combine(day, wall_time.replace(fold=0))


def is_repeated(day: date, wall_time: time, zone: Zone) -> bool:
    """Whether clocks in `zone` show `wall_time` twice on `day`."""
    first, last = instant_of(day, wall_time, zone), last_instant_of(day, wall_time, zone)
    return first != last and not is_skipped(day, wall_time, zone)


def local_day_bounds(day: date, zone: Zone) -> tuple[datetime, datetime]:
    """The instants (UTC) at which a zone's calendar day begins and ends, the end excluded.

    The day has 24 hours, 23 or 25 at a change of clocks, another number when a zone changes by another
    amount, and none at all (start == end) when the zone skips the date. Days join without gap or overlap.
    Raises ValueError when the day or the next lies outside years 1 to 9999.
    """
    try:
        following = day + timedelta(days=1)
    except OverflowError as error:
        raise ValueError(f"{day} has no following day") from error
    return _day_start(day, zone), _day_start(following, zone)


def local_day(instant: datetime, zone: Zone) -> date:
    """The calendar day of `zone` whose `local_day_bounds` hold `instant`.

    That is the local date, except where clocks once went back over midnight (St John's until 2011, at
    00:01): there the minute before the change still belongs to the old day. Raises ValueError for an
    instant without offset.
    """
    moment = as_utc(instant)
    try:
        day = moment.astimezone(zone_of(zone)).date()
    except OverflowError as error:
        raise ValueError(f"{instant} lies outside the calendar of {zone}") from error
    while moment < _day_start(day, zone):
        day -= timedelta(days=1)
    while moment >= local_day_bounds(day, zone)[1]:
        day += timedelta(days=1)
    return day


def completed_days(born_on: date, on: date) -> int:
    """How many whole days old an animal is: 0 on the day of birth. Raises ValueError before birth."""
    if on < born_on:
        raise ValueError(f"{on} is before the day of birth {born_on}")
    return (on - born_on).days


def as_utc(instant: datetime) -> datetime:
    """The same instant in UTC. Raises ValueError for a date-time without offset."""
    if instant.tzinfo is None or instant.utcoffset() is None:
        raise ValueError("an instant needs an offset: a bare date and time could mean any zone")
    try:
        return instant.astimezone(UTC)
    except OverflowError as error:
        raise ValueError(f"{instant} lies outside years 1 to 9999 in UTC") from error


def _resolved(day: date, wall_time: time, zone: ZoneInfo, *, fold: int) -> datetime:
    try:
        return datetime.combine(day, wall_time.replace(fold=fold), tzinfo=zone).astimezone(UTC)
    except OverflowError as error:
        raise ValueError(f"{day} {wall_time} lies outside years 1 to 9999 in UTC") from error


def _day_start(day: date, zone: Zone) -> datetime:
    """The instant from which on the local date is `day` or later for good."""
    place = zone_of(zone)
    first = instant_of(day, time.min, place)
    last = last_instant_of(day, time.min, place)
    if first == last or is_skipped(day, time.min, place):
        return first
    # Midnight comes twice. In the Azores (01:00 back to 00:00) the date stays `day`, so the first counts;
    # in St John's (00:01 back to 23:01) the old date returns for an hour, so the second counts.
    just_before = (last - timedelta(microseconds=1)).astimezone(place).date()
    return last if just_before < day else first
