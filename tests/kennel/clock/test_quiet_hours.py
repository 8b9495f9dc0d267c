"""Quiet hours over midnight and over changes of clocks (dates of changes: IANA time zone database)."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kennel.clock.quiet_hours import QuietWindow, quiet_until

LONDON, LORD_HOWE = "Europe/London", "Australia/Lord_Howe"
NIGHT = QuietWindow(time(22), time(7))


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_a_window_within_a_day_ends_on_that_day() -> None:
    nap = QuietWindow(time(13), time(15))
    assert quiet_until(utc("2026-01-10T13:00"), nap, LONDON) == utc("2026-01-10T15:00")
    assert quiet_until(utc("2026-01-10T15:00"), nap, LONDON) is None
    assert quiet_until(utc("2026-01-10T12:59"), nap, LONDON) is None


def test_a_window_over_midnight_is_quiet_on_both_sides_of_it() -> None:
    assert quiet_until(utc("2026-01-10T23:30"), NIGHT, LONDON) == utc("2026-01-11T07:00")
    assert quiet_until(utc("2026-01-11T06:59"), NIGHT, LONDON) == utc("2026-01-11T07:00")
    assert quiet_until(utc("2026-01-11T07:00"), NIGHT, LONDON) is None


def test_a_window_that_ends_at_midnight_ends_at_midnight() -> None:
    evening = QuietWindow(time(20), time(0))
    assert quiet_until(utc("2026-12-31T23:59"), evening, LONDON) == utc("2027-01-01T00:00")
    assert quiet_until(utc("2027-01-01T00:00"), evening, LONDON) is None


def test_an_end_inside_a_repeated_autumn_hour_is_its_second_passing() -> None:
    # London, 25 October 2026: 02:00 BST becomes 01:00 GMT, so 01:30 comes at 00:30Z and at 01:30Z.
    window = QuietWindow(time(22), time(1, 30))
    assert quiet_until(utc("2026-10-24T22:00"), window, LONDON) == utc("2026-10-25T01:30")
    assert quiet_until(utc("2026-10-25T00:45"), window, LONDON) == utc("2026-10-25T01:30")
    assert quiet_until(utc("2026-10-25T01:30"), window, LONDON) is None


def test_an_end_inside_a_repeated_half_hour_is_its_second_passing() -> None:
    window = QuietWindow(time(22), time(1, 45))
    assert quiet_until(utc("2026-04-04T14:50"), window, LORD_HOWE) == utc("2026-04-04T15:15")


def test_a_start_inside_a_repeated_hour_is_its_first_passing() -> None:
    window = QuietWindow(time(1, 30), time(6))
    assert quiet_until(utc("2026-10-25T00:30"), window, LONDON) == utc("2026-10-25T06:00")
    assert quiet_until(utc("2026-10-25T00:29"), window, LONDON) is None


def test_an_end_inside_a_spring_gap_moves_forward_by_the_gap() -> None:
    window = QuietWindow(time(22), time(1, 30))
    assert quiet_until(utc("2026-03-29T00:45"), window, LONDON) == utc("2026-03-29T01:30")


def test_two_nights_that_touch_at_a_change_of_clocks_are_one_stretch() -> None:
    # 23 h 45 min a day; in the repeated hour the end (second 01:30) lies after the next start (first 01:45).
    window = QuietWindow(time(1, 45), time(1, 30))
    assert quiet_until(utc("2026-10-24T20:00"), window, LONDON) == utc("2026-10-26T01:30")


def test_a_zone_without_summer_time_and_the_leap_day_keep_their_hours() -> None:
    assert quiet_until(utc("2028-02-28T20:00"), NIGHT, "Asia/Kolkata") == utc("2028-02-29T01:30")


def test_a_night_that_loses_a_whole_day_ends_at_the_morning_that_exists() -> None:
    # Samoa, 29 December 2011, 23:00 (UTC-10) is followed by 31 December; the night ends on the 31st at 7.
    assert quiet_until(utc("2011-12-30T09:00"), NIGHT, "Pacific/Apia") == utc("2011-12-30T17:00")


def test_windows_that_could_mean_two_things_are_refused() -> None:
    with pytest.raises(ValueError, match="differ"):
        QuietWindow(time(8), time(8))
    with pytest.raises(ValueError, match="no zone of their own"):
        QuietWindow(time(8, tzinfo=UTC), time(9))
    with pytest.raises(ValueError, match="offset"):
        quiet_until(datetime(2026, 1, 1), NIGHT, LONDON)


minutes = st.integers(0, 1439).map(lambda one: time(one // 60, one % 60))


@given(
    instant=st.datetimes(datetime(1970, 1, 1), datetime(2037, 1, 1)).map(lambda one: one.replace(tzinfo=UTC)),
    start=minutes,
    end=minutes,
    zone=st.timezone_keys(),
)
def test_quiet_hours_end_later_than_now_at_the_end_named_and_not_before(
    instant: datetime, start: time, end: time, zone: str
) -> None:
    if start == end:
        return
    window = QuietWindow(start, end)
    until = quiet_until(instant, window, zone)
    if until is None:
        return
    assert instant < until <= instant + timedelta(days=3)
    assert quiet_until(until, window, zone) is None
    assert quiet_until(until - timedelta(microseconds=1), window, zone) == until


@given(instant=st.datetimes(datetime(2026, 5, 1), datetime(2026, 9, 1)), start=minutes, end=minutes)
def test_away_from_clock_changes_quiet_is_what_the_wall_clock_says(
    instant: datetime, start: time, end: time
) -> None:
    if start == end:
        return
    moment = instant.replace(tzinfo=UTC)
    shown = moment.astimezone(ZoneInfo(LONDON)).time()
    expected = start <= shown < end if start < end else (shown >= start or shown < end)
    assert (quiet_until(moment, QuietWindow(start, end), LONDON) is not None) is expected
