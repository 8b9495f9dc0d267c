"""Wall time against the changes of clocks that the IANA time zone database lists, and against dateutil."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz as dateutil_tz
from dateutil.zoneinfo import get_zonefile_instance
from hypothesis import given
from hypothesis import strategies as st

from kennel.clock.wall_clock import (
    as_utc,
    completed_days,
    instant_of,
    is_repeated,
    is_skipped,
    last_instant_of,
    local_day,
    local_day_bounds,
    zone_of,
)

LONDON, LORD_HOWE, APIA, KOLKATA = "Europe/London", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kolkata"
ZONES = [LONDON, LORD_HOWE, APIA, KOLKATA, "America/St_Johns", "Atlantic/Azores", "America/Sao_Paulo"]
ZONES += ["America/New_York", "America/Havana", "Africa/Cairo", "Asia/Beirut", "Pacific/Kwajalein"]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# --- single times: transitions as listed in the IANA time zone database --------------------------------


def test_an_ordinary_time_is_read_with_the_offset_of_its_season() -> None:
    assert instant_of(date(2026, 1, 15), time(8), LONDON) == utc("2026-01-15T08:00")
    assert instant_of(date(2026, 7, 15), time(8), LONDON) == utc("2026-07-15T07:00")


def test_a_time_skipped_in_spring_moves_forward_by_the_gap() -> None:
    # London, 29 March 2026: 01:00 becomes 02:00. RFC 5545 section 3.3.5 gives the same kind of example.
    assert instant_of(date(2026, 3, 29), time(1, 30), LONDON) == utc("2026-03-29T01:30")
    shown = instant_of(date(2026, 3, 29), time(1, 30), LONDON).astimezone(ZoneInfo(LONDON))
    assert shown.time() == time(2, 30)


def test_the_example_of_rfc_5545_for_a_time_that_does_not_occur() -> None:
    # RFC 5545 section 3.3.5: 02:30 on 11 March 2007 in New York is read as 03:30 EDT.
    assert instant_of(date(2007, 3, 11), time(2, 30), "America/New_York") == utc("2007-03-11T07:30")


def test_the_example_of_rfc_5545_for_a_time_that_occurs_twice() -> None:
    # RFC 5545 section 3.3.5: 01:30 on 4 November 2007 in New York is the first one, 01:30 EDT.
    assert instant_of(date(2007, 11, 4), time(1, 30), "America/New_York") == utc("2007-11-04T05:30")


def test_of_a_time_repeated_in_autumn_the_first_is_meant_even_when_fold_says_otherwise() -> None:
    assert instant_of(date(2026, 10, 25), time(1, 30), LONDON) == utc("2026-10-25T00:30")
    assert instant_of(date(2026, 10, 25), time(1, 30, fold=1), LONDON) == utc("2026-10-25T00:30")
    assert last_instant_of(date(2026, 10, 25), time(1, 30), LONDON) == utc("2026-10-25T01:30")


def test_a_half_hour_change_moves_by_half_an_hour() -> None:
    # Lord Howe Island: +10:30 and +11; 4 October 2026 at 02:00 forward, 5 April 2026 at 02:00 back.
    assert instant_of(date(2026, 10, 4), time(2, 15), LORD_HOWE) == utc("2026-10-03T15:45")
    shown = instant_of(date(2026, 10, 4), time(2, 15), LORD_HOWE).astimezone(ZoneInfo(LORD_HOWE))
    assert shown.time() == time(2, 45)
    assert instant_of(date(2026, 4, 5), time(1, 45), LORD_HOWE) == utc("2026-04-04T14:45")
    assert last_instant_of(date(2026, 4, 5), time(1, 45), LORD_HOWE) == utc("2026-04-04T15:15")


def test_a_zone_without_summer_time_never_skips_or_repeats() -> None:
    days = [date(2026, 1, 1) + timedelta(days=n) for n in range(366)]
    assert not any(is_skipped(day, time(2, 30), KOLKATA) for day in days)
    assert not any(is_repeated(day, time(1, 30), KOLKATA) for day in days)
    assert instant_of(date(2026, 3, 29), time(2, 30), KOLKATA) == utc("2026-03-28T21:00")


def test_a_time_on_a_day_the_zone_skipped_moves_to_the_same_time_a_day_later() -> None:
    # Samoa went from 29 to 31 December 2011 (from UTC-10 to UTC+14).
    skipped = instant_of(date(2011, 12, 30), time(9), APIA)
    assert skipped == instant_of(date(2011, 12, 31), time(9), APIA) == utc("2011-12-30T19:00")
    assert is_skipped(date(2011, 12, 30), time(9), APIA)


def test_the_leap_day_and_the_year_end_are_ordinary_days() -> None:
    assert instant_of(date(2028, 2, 29), time(23, 59), LONDON) == utc("2028-02-29T23:59")
    assert instant_of(date(2026, 12, 31), time(23, 59), LORD_HOWE) == utc("2026-12-31T12:59")


def test_skipped_and_repeated_times_are_told_apart() -> None:
    assert is_skipped(date(2026, 3, 29), time(1, 0), LONDON)
    assert not is_skipped(date(2026, 3, 29), time(2, 0), LONDON)
    assert not is_repeated(date(2026, 3, 29), time(1, 30), LONDON)
    assert is_repeated(date(2026, 10, 25), time(1, 0), LONDON)
    assert not is_repeated(date(2026, 10, 25), time(2, 0), LONDON)


def test_what_cannot_be_an_instant_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown time zone"):
        instant_of(date(2026, 1, 1), time(8), "Hollin/Bank")
    with pytest.raises(ValueError, match="unknown time zone"):
        zone_of("Europe")
    with pytest.raises(ValueError, match="no zone of its own"):
        instant_of(date(2026, 1, 1), time(8, tzinfo=UTC), LONDON)
    with pytest.raises(ValueError, match="no zone of its own"):
        last_instant_of(date(2026, 1, 1), time(8, tzinfo=UTC), LONDON)
    with pytest.raises(ValueError, match="years 1 to 9999"):
        instant_of(date(1, 1, 1), time(0), KOLKATA)
    with pytest.raises(ValueError, match="offset"):
        as_utc(datetime(2026, 1, 1))
    with pytest.raises(ValueError, match="no following day"):
        local_day_bounds(date.max, LONDON)
    with pytest.raises(ValueError, match="years 1 to 9999"):
        as_utc(datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=5))))
    with pytest.raises(ValueError, match="calendar"):
        local_day(datetime(1, 1, 1, tzinfo=UTC), "America/New_York")


# --- whole days ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        (LONDON, date(2026, 6, 1), 24),
        (LONDON, date(2026, 3, 29), 23),
        (LONDON, date(2026, 10, 25), 25),
        (LORD_HOWE, date(2026, 10, 4), 23.5),
        (LORD_HOWE, date(2026, 4, 5), 24.5),
        (KOLKATA, date(2026, 3, 29), 24),
        (APIA, date(2011, 12, 30), 0),  # the date that never was
        (APIA, date(2011, 12, 29), 24),
        (APIA, date(2011, 12, 31), 24),
        ("America/Sao_Paulo", date(2018, 11, 4), 23),  # midnight itself was skipped
        ("America/Sao_Paulo", date(2018, 2, 17), 25),  # 23:00 to 24:00 came twice
        ("Atlantic/Azores", date(2026, 10, 25), 25),  # midnight came twice, the date stayed
        ("America/St_Johns", date(2010, 11, 6), 25),  # 00:01 went back to 23:01 of the day before
        ("Pacific/Kwajalein", date(1993, 8, 21), 0),  # crossed the date line westwards to eastwards
        ("Antarctica/Troll", date(2026, 3, 29), 22),  # two hours of summer time
        (LONDON, date(2028, 2, 29), 24),
        (LONDON, date(2026, 12, 31), 24),
    ],
)
def test_a_local_day_has_as_many_hours_as_the_zone_gives_it(zone: str, day: date, hours: float) -> None:
    start, end = local_day_bounds(day, zone)
    assert end - start == timedelta(hours=hours)


def test_the_minute_before_clocks_went_back_over_midnight_belongs_to_the_old_day() -> None:
    # St John's, Newfoundland, 7 November 2010: 00:01 became 23:01 of 6 November.
    assert local_day(utc("2010-11-07T02:30:30"), "America/St_Johns") == date(2010, 11, 6)
    assert local_day(utc("2010-11-07T03:30:00"), "America/St_Johns") == date(2010, 11, 7)


@given(instant=st.datetimes(datetime(1900, 1, 1), datetime(2100, 1, 1)), zone=st.timezone_keys())
def test_each_instant_lies_in_exactly_the_bounds_of_its_local_day(instant: datetime, zone: str) -> None:
    moment = instant.replace(tzinfo=UTC)
    day = local_day(moment, zone)
    start, end = local_day_bounds(day, zone)
    assert start <= moment < end
    assert local_day_bounds(day + timedelta(days=1), zone)[0] == end


# dateutil's copy of the data is release 2024a: what it holds of later days was foreseen and has changed since (Havana's
# winter of 2026), and release 2024b corrected Portugal's clocks up to 1996.
@given(
    day=st.dates(date(1997, 1, 1), date(2023, 12, 31)),
    wall_time=st.times().map(lambda one: one.replace(microsecond=0, fold=0)),
    zone=st.sampled_from(ZONES),
)
def test_skipped_and_repeated_times_agree_with_dateutil(day: date, wall_time: time, zone: str) -> None:
    # Independent library: dateutil's own zone reader, its own copy of the zone data, resolve_imaginary.
    other = get_zonefile_instance().get(zone)
    naive = datetime.combine(day, wall_time)
    expected = dateutil_tz.resolve_imaginary(naive.replace(tzinfo=other))
    assert instant_of(day, wall_time, zone) == expected.astimezone(UTC)
    assert is_skipped(day, wall_time, zone) is not dateutil_tz.datetime_exists(naive, other)
    assert is_repeated(day, wall_time, zone) is dateutil_tz.datetime_ambiguous(naive, other)


@pytest.mark.parametrize(
    "zone", [LONDON, LORD_HOWE, "America/St_Johns", "Atlantic/Azores", "America/Sao_Paulo"]
)
def test_every_quarter_hour_around_a_change_of_clocks_agrees_with_dateutil(zone: str) -> None:
    other = get_zonefile_instance().get(zone)
    assert other is not None
    for day in (date(2017, 1, 1) + timedelta(days=n) for n in range(400)):
        start = datetime.combine(day, time.min)
        if other.utcoffset(start) == other.utcoffset(start + timedelta(days=1)):
            continue
        for quarter in range(96):
            naive = start + timedelta(minutes=15 * quarter)
            expected = dateutil_tz.resolve_imaginary(naive.replace(tzinfo=other)).astimezone(UTC)
            assert instant_of(day, naive.time(), zone) == expected


# --- ages ---------------------------------------------------------------------------------------------


def test_an_age_counts_completed_days_over_leap_days_and_year_ends() -> None:
    assert completed_days(date(2026, 3, 1), date(2026, 3, 1)) == 0
    assert completed_days(date(2028, 2, 28), date(2028, 3, 1)) == 2
    assert completed_days(date(2026, 2, 28), date(2026, 3, 1)) == 1
    assert completed_days(date(2026, 12, 30), date(2027, 1, 2)) == 3


def test_an_age_before_birth_is_refused() -> None:
    with pytest.raises(ValueError, match="before the day of birth"):
        completed_days(date(2026, 3, 2), date(2026, 3, 1))
