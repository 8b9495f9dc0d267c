"""Recurrence against RFC 5545, dateutil's rrule and the changes of clocks in the IANA database."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Literal
from zoneinfo import ZoneInfo

import pytest
from dateutil import rrule as dateutil_rrule
from hypothesis import given
from hypothesis import strategies as st

from kennel.clock.recurrence import MAX_OCCURRENCES, At, Every, Frequency, expand, rule_days
from kennel.clock.recurrence_text import at_from_rrule, rrule_of, rule_as_json, rule_from_json

LONDON, LORD_HOWE, APIA = "Europe/London", "Australia/Lord_Howe", "Pacific/Apia"


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def daily(*wall_times: time, first_on: date = date(2026, 1, 1), **more: object) -> At:
    return At(Frequency.DAILY, wall_times, first_on, **more)  # type: ignore[arg-type]


def times(rule: At | Every, start: str, until: str, zone: str | None = None) -> list[datetime]:
    return [one.at for one in expand(rule, utc(start), utc(until), zone=zone)]


# --- elapsed time -------------------------------------------------------------------------------------


def test_a_bottle_each_two_hours_stays_two_hours_apart_over_both_changes_of_clocks() -> None:
    rule = Every(timedelta(hours=2), utc("2026-03-28T00:00"))
    for start, until in (("2026-03-28T12:00", "2026-03-30T00:00"), ("2026-10-24T12:00", "2026-10-26T00:00")):
        found = times(rule, start, until)
        assert len(found) == 18
        assert {later - earlier for earlier, later in pairwise(found)} == {timedelta(hours=2)}


def test_an_elapsed_schedule_includes_its_start_and_excludes_its_end() -> None:
    rule = Every(timedelta(hours=3), utc("2026-01-01T00:00"))
    assert times(rule, "2026-01-01T03:00", "2026-01-01T06:00") == [utc("2026-01-01T03:00")]
    assert times(rule, "2025-12-31T00:00", "2026-01-01T00:01") == [utc("2026-01-01T00:00")]


def test_an_elapsed_schedule_ends_at_its_end_or_after_its_count() -> None:
    ending = Every(timedelta(hours=1), utc("2026-01-01T00:00"), until_at=utc("2026-01-01T02:00"))
    assert times(ending, "2026-01-01T00:00", "2026-01-02T00:00") == [
        utc("2026-01-01T00:00"),
        utc("2026-01-01T01:00"),
    ]
    counted = Every(timedelta(hours=1), utc("2026-01-01T00:00"), count=3)
    found = expand(counted, utc("2026-01-01T01:30"), utc("2026-01-02T00:00"))
    assert [(one.at, one.key) for one in found] == [(utc("2026-01-01T02:00"), "n=2")]


def test_a_schedule_from_completion_knows_only_the_next_one() -> None:
    rule = Every(timedelta(hours=4), utc("2026-01-01T08:00"), from_completion=True)
    start, until = utc("2026-01-01T00:00"), utc("2026-01-04T00:00")
    assert [one.at for one in expand(rule, start, until)] == [utc("2026-01-01T08:00")]
    done = utc("2026-01-01T09:10")
    assert [one.at for one in expand(rule, start, until, last_done_at=done)] == [utc("2026-01-01T13:10")]
    assert expand(rule, start, utc("2026-01-01T13:10"), last_done_at=done) == ()


def test_each_completion_gives_its_follower_another_name() -> None:
    rule = Every(timedelta(hours=4), utc("2026-01-01T08:00"), from_completion=True)
    start, until = utc("2026-01-01T00:00"), utc("2026-01-04T00:00")
    keys = {
        expand(rule, start, until, last_done_at=done)[0].key
        for done in (None, utc("2026-01-01T09:10"), utc("2026-01-01T13:10"))
    }
    assert len(keys) == 3


@given(
    anchor=st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)),
    interval_minutes=st.integers(1, 60_000),
    start=st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)),
    length_minutes=st.integers(0, 20_000),
)
def test_an_elapsed_schedule_holds_exactly_the_multiples_of_its_interval(
    anchor: datetime, interval_minutes: int, start: datetime, length_minutes: int
) -> None:
    rule = Every(timedelta(minutes=interval_minutes), anchor.replace(tzinfo=UTC))
    begin = start.replace(tzinfo=UTC)
    end = begin + timedelta(minutes=length_minutes)
    found = expand(rule, begin, end)
    assert all(begin <= one.at < end for one in found)
    assert all((one.at - rule.anchor_at) % rule.interval == timedelta(0) for one in found)
    # As many as fit: counted by walking there step by step from the last multiple before the stretch.
    walker = max(rule.anchor_at, begin - (begin - rule.anchor_at) % rule.interval)
    expected = 0
    while walker < end:
        expected += walker >= begin
        walker += rule.interval
    assert len(found) == expected


# --- wall time ----------------------------------------------------------------------------------------


def test_a_dose_at_eight_stays_at_eight_when_the_clocks_change() -> None:
    found = times(daily(time(8)), "2026-03-28T00:00", "2026-03-31T00:00", LONDON)
    assert found == [utc("2026-03-28T08:00"), utc("2026-03-29T07:00"), utc("2026-03-30T07:00")]


def test_a_wall_time_skipped_in_spring_moves_forward_and_is_never_dropped() -> None:
    found = expand(daily(time(1, 30)), utc("2026-03-29T00:00"), utc("2026-03-29T12:00"), zone=LONDON)
    assert [one.at for one in found] == [utc("2026-03-29T01:30")]
    assert found[0].key == "2026-03-29T01:30"
    assert found[0].moved == timedelta(hours=1)


def test_a_wall_time_repeated_in_autumn_fires_once_the_first_time() -> None:
    found = times(daily(time(1, 30)), "2026-10-24T12:00", "2026-10-26T00:00", LONDON)
    assert found == [utc("2026-10-25T00:30")]


def test_two_wall_times_laid_on_one_instant_by_a_gap_happen_once() -> None:
    found = expand(
        daily(time(1, 30), time(2, 30)), utc("2026-03-29T00:00"), utc("2026-03-29T12:00"), zone=LONDON
    )
    assert [(one.at, one.key, one.moved) for one in found] == [
        (utc("2026-03-29T01:30"), "2026-03-29T02:30", timedelta(0))
    ]


def test_wall_times_around_a_gap_come_in_order_of_the_instants() -> None:
    found = expand(
        daily(time(1, 45), time(2, 10)), utc("2026-03-29T00:00"), utc("2026-03-29T12:00"), zone=LONDON
    )
    assert [one.key for one in found] == ["2026-03-29T02:10", "2026-03-29T01:45"]


def test_a_half_hour_change_moves_a_wall_time_by_half_an_hour() -> None:
    found = expand(daily(time(2, 15)), utc("2026-10-03T12:00"), utc("2026-10-04T12:00"), zone=LORD_HOWE)
    assert [(one.at, one.moved) for one in found] == [(utc("2026-10-03T15:45"), timedelta(minutes=30))]


def test_a_date_the_zone_skips_gives_no_second_dose_on_the_next() -> None:
    # Samoa had no 30 December 2011; from the 29th at 9 to the 31st at 9 only 24 hours passed.
    rule = daily(time(9), first_on=date(2011, 12, 1))
    found = expand(rule, utc("2011-12-29T12:00"), utc("2012-01-01T12:00"), zone=APIA)
    assert [one.key for one in found] == ["2011-12-29T09:00", "2011-12-31T09:00", "2012-01-01T09:00"]
    assert {later.at - earlier.at for earlier, later in pairwise(found)} == {timedelta(hours=24)}


def test_a_zone_without_summer_time_keeps_twenty_four_hours_all_year() -> None:
    found = times(daily(time(6, 30)), "2026-01-02T00:00", "2027-01-02T00:00", "Asia/Kolkata")
    assert len(found) == 365
    assert {later - earlier for earlier, later in pairwise(found)} == {timedelta(hours=24)}


def test_the_29th_of_february_comes_in_leap_years_and_the_last_day_every_year() -> None:
    on_29 = At(Frequency.MONTHLY, (time(8),), date(2027, 1, 29), month_days=(29,))
    days = [
        one.key[:10] for one in expand(on_29, utc("2027-02-01T00:00"), utc("2028-04-01T00:00"), zone=LONDON)
    ]
    assert "2028-02-29" in days
    assert not [one for one in days if one.startswith("2027-02")]
    last = At(Frequency.MONTHLY, (time(8),), date(2027, 1, 1), month_days=(-1,))
    days = [
        one.key[:10] for one in expand(last, utc("2027-02-01T00:00"), utc("2028-03-01T00:00"), zone=LONDON)
    ]
    assert (days[0], days[-1]) == ("2027-02-28", "2028-02-29")


def test_a_rule_runs_through_the_year_end() -> None:
    rule = daily(time(0), time(23, 59), first_on=date(2026, 12, 31))
    keys = [one.key for one in expand(rule, utc("2026-12-31T00:00"), utc("2027-01-01T12:00"), zone=LONDON)]
    assert keys == ["2026-12-31T00:00", "2026-12-31T23:59", "2027-01-01T00:00"]


def test_the_examples_of_rfc_5545_for_weeks_months_and_ends() -> None:
    # RFC 5545 section 3.8.5.3; days only, all begin on 2 September 1997.
    start = date(1997, 9, 2)
    every_other_week = at_from_rrule("FREQ=WEEKLY;INTERVAL=2;COUNT=8;BYDAY=TU,TH", (time(9),), start)
    keys = [
        one.key[:10]
        for one in expand(
            every_other_week, utc("1997-01-01T00:00"), utc("1999-01-01T00:00"), zone="America/New_York"
        )
    ]
    assert keys == [
        "1997-09-02", "1997-09-04", "1997-09-16", "1997-09-18",
        "1997-09-30", "1997-10-02", "1997-10-14", "1997-10-16",
    ]  # fmt: skip
    monthly = at_from_rrule("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", (time(9),), date(1997, 9, 30))
    keys = [
        one.key[:10]
        for one in expand(monthly, utc("1997-01-01T00:00"), utc("1999-01-01T00:00"), zone="America/New_York")
    ]
    assert keys == [
        "1997-09-30", "1997-10-01", "1997-10-31", "1997-11-01", "1997-11-30",
        "1997-12-01", "1997-12-31", "1998-01-01", "1998-01-31", "1998-02-01",
    ]  # fmt: skip
    until = at_from_rrule("FREQ=DAILY;UNTIL=19971224", (time(9),), start)
    assert (
        len(expand(until, utc("1997-01-01T00:00"), utc("1999-01-01T00:00"), zone="America/New_York")) == 114
    )


@st.composite
def rules(draw: st.DrawFn) -> At:
    frequency = draw(st.sampled_from(list(Frequency)))
    end = draw(st.sampled_from(["none", "count", "until"]))
    first_on = draw(st.dates(date(2019, 1, 1), date(2026, 1, 1)))
    wall_times = st.integers(0, 1439).map(lambda one: time(one // 60, one % 60))
    return At(
        frequency,
        tuple(draw(st.lists(wall_times, min_size=1, max_size=3, unique=True))),
        first_on,
        interval=draw(st.integers(1, 5)),
        weekdays=tuple(draw(st.lists(st.integers(0, 6), max_size=4, unique=True)))
        if frequency is Frequency.WEEKLY
        else (),
        month_days=tuple(
            draw(st.lists(st.integers(-31, 31).filter(bool), min_size=1, max_size=4, unique=True))
        )
        if frequency is Frequency.MONTHLY
        else (),
        count=draw(st.integers(1, 60)) if end == "count" else None,
        until_on=first_on + timedelta(days=draw(st.integers(0, 900))) if end == "until" else None,
    )


DATEUTIL_FREQUENCIES: dict[Frequency, Literal[1, 2, 3]] = {
    Frequency.DAILY: dateutil_rrule.DAILY,
    Frequency.WEEKLY: dateutil_rrule.WEEKLY,
    Frequency.MONTHLY: dateutil_rrule.MONTHLY,
}


def dateutil_days(rule: At) -> dateutil_rrule.rrule:
    return dateutil_rrule.rrule(
        DATEUTIL_FREQUENCIES[rule.frequency],
        dtstart=datetime.combine(rule.first_on, time.min),
        interval=rule.interval,
        byweekday=rule.weekdays or None,
        bymonthday=rule.month_days or None,
        until=datetime.combine(rule.until_on, time.min) if rule.until_on else None,
    )


@given(rule=rules(), begin=st.dates(date(2019, 1, 1), date(2027, 1, 1)), length=st.integers(0, 800))
def test_rule_days_agree_with_dateutil(rule: At, begin: date, length: int) -> None:
    # Independent library: dateutil.rrule (its own reading of RFC 5545).
    end = begin + timedelta(days=length)
    expected = dateutil_days(rule).between(
        datetime.combine(begin, time.min), datetime.combine(end, time.min), inc=True
    )
    assert list(rule_days(rule, begin, end)) == [one.date() for one in expected]


@given(rule=rules(), begin=st.dates(date(2019, 1, 1), date(2027, 1, 1)), length=st.integers(1, 400))
def test_occurrences_in_a_zone_without_changes_agree_with_dateutil(
    rule: At, begin: date, length: int
) -> None:
    start = datetime.combine(begin, time.min, tzinfo=UTC)
    end = start + timedelta(days=length)
    expected: list[datetime] = []
    number = 0
    for day in dateutil_days(rule):
        if day.date() >= end.date() or (rule.count is not None and number >= rule.count):
            break
        for wall_time in sorted(rule.wall_times):
            number += 1
            at = datetime.combine(day.date(), wall_time, tzinfo=UTC)
            if at >= start and (rule.count is None or number <= rule.count):
                expected.append(at)
    assert [one.at for one in expand(rule, start, end, zone="UTC")] == expected


@given(
    rule=rules(),
    start=st.datetimes(datetime(2019, 1, 1), datetime(2027, 1, 1)),
    length=st.integers(0, 400),
    cut=st.integers(0, 400),
    zone=st.sampled_from([LONDON, LORD_HOWE, "America/St_Johns", "Africa/Cairo", "Asia/Kolkata"]),
)
def test_planning_in_two_pieces_gives_the_same_as_planning_at_once(
    rule: At, start: datetime, length: int, cut: int, zone: str
) -> None:
    begin = start.replace(tzinfo=UTC)
    middle, end = begin + timedelta(days=min(cut, length)), begin + timedelta(days=length)
    at_once = expand(rule, begin, end, zone=zone)
    assert at_once == expand(rule, begin, middle, zone=zone) + expand(rule, middle, end, zone=zone)
    assert len({one.key for one in at_once}) == len(at_once)
    assert all(earlier.at < later.at for earlier, later in pairwise(at_once))
    for one in at_once:
        shown = one.at.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        assert shown - one.moved == datetime.fromisoformat(one.key)


# --- refusals and text --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "make",
    [
        lambda: Every(timedelta(seconds=59), utc("2026-01-01T00:00")),
        lambda: Every(timedelta(minutes=1, microseconds=1), utc("2026-01-01T00:00")),
        lambda: Every(timedelta(days=4000), utc("2026-01-01T00:00")),
        lambda: Every(timedelta(hours=1), datetime(2026, 1, 1)),
        lambda: Every(timedelta(hours=1), utc("2026-01-01T00:00"), until_at=datetime(2026, 1, 1)),
        lambda: Every(timedelta(hours=1), utc("2026-01-01T00:00"), count=0),
        lambda: Every(timedelta(hours=1), utc("2026-01-01T00:00"), from_completion=True, count=3),
        lambda: daily(),
        lambda: daily(time(8), time(8)),
        lambda: daily(time(8, 0, 1)),
        lambda: daily(time(8, tzinfo=UTC)),
        lambda: daily(time(8), interval=0),
        lambda: daily(time(8), weekdays=(0,)),
        lambda: daily(time(8), month_days=(1,)),
        lambda: At(Frequency.WEEKLY, (time(8),), date(2026, 1, 1), weekdays=(7,)),
        lambda: At(Frequency.MONTHLY, (time(8),), date(2026, 1, 1), month_days=(0,)),
        lambda: daily(time(8), count=3, until_on=date(2026, 2, 1)),
        lambda: expand(daily(time(8)), utc("2026-01-01T00:00"), utc("2026-01-02T00:00")),
        lambda: expand(daily(time(8)), datetime(2026, 1, 1), utc("2026-01-02T00:00"), zone=LONDON),
        lambda: expand(
            daily(time(8)), utc("0001-01-01T12:00"), utc("2026-01-02T00:00"), zone=LONDON
        ),
        lambda: expand(
            Every(timedelta(minutes=1), utc("2026-01-01T00:00")),
            utc("2026-01-01T00:00"),
            utc("2026-01-01T00:00") + timedelta(minutes=MAX_OCCURRENCES + 1),
        ),
        lambda: expand(
            daily(time(8), first_on=date(1, 1, 1)),
            utc("0100-01-01T00:00"),
            utc("0900-01-01T00:00"),
            zone=LONDON,
        ),
        lambda: at_from_rrule("FREQ=HOURLY", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("FREQ=DAILY;BYHOUR=3", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("FREQ=DAILY;FREQ=DAILY", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("FREQ=MONTHLY;BYDAY=1MO", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("FREQ=DAILY;INTERVAL=x", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("FREQ=DAILY;UNTIL=20261231T000000Z", (time(8),), date(2026, 1, 1)),
        lambda: at_from_rrule("", (time(8),), date(2026, 1, 1)),
        lambda: rule_from_json({"kind": "sometimes"}),
        lambda: rule_from_json({"kind": "every", "interval_s": True, "anchor_at": "2026-01-01T00:00:00Z"}),
        lambda: rule_from_json({"kind": "every", "interval_s": 60, "anchor_at": 3}),
        lambda: rule_from_json({"kind": "every", "interval_s": 60, "anchor_at": "2026-01-01T00:00:00"}),
        lambda: rule_from_json(
            {"kind": "every", "interval_s": 60, "anchor_at": "2026-01-01T00:00:00Z", "from": "x"}
        ),
        lambda: rule_from_json({"kind": "at", "rrule": "FREQ=DAILY", "wall_times": "08:00"}),
        lambda: rule_from_json({"kind": "at", "zone": "UTC"}),
    ],
)  # fmt: skip
def test_a_rule_that_cannot_be_kept_is_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


def test_an_empty_stretch_of_time_holds_nothing() -> None:
    assert expand(daily(time(8)), utc("2026-01-02T00:00"), utc("2026-01-01T00:00"), zone=LONDON) == ()
    assert (
        expand(
            Every(timedelta(hours=1), utc("2026-01-01T00:00")),
            utc("2026-01-02T00:00"),
            utc("2026-01-01T00:00"),
        )
        == ()
    )


@given(rule=rules())
def test_a_wall_time_rule_survives_its_text(rule: At) -> None:
    assert at_from_rrule(rrule_of(rule), rule.wall_times, rule.first_on) == rule
    assert rule_from_json(rule_as_json(rule)) == rule


@pytest.mark.parametrize(
    "rule",
    [
        Every(timedelta(hours=2), utc("2026-01-01T00:00")),
        Every(timedelta(hours=2), utc("2026-01-01T00:00"), count=4),
        Every(
            timedelta(hours=2),
            utc("2026-01-01T00:00"),
            from_completion=True,
            until_at=utc("2026-02-01T00:00"),
        ),
    ],
)
def test_an_elapsed_rule_survives_its_text(rule: Every) -> None:
    assert rule_from_json(rule_as_json(rule)) == rule


def test_the_rule_prefix_and_small_letters_are_understood() -> None:
    rule = at_from_rrule("RRULE:freq=weekly;byday=mo,th", (time(8),), date(2026, 1, 1))
    assert rule.weekdays == (0, 3)


def test_a_weekly_rule_reaches_a_monday_that_is_the_last_day_asked_for() -> None:
    rule = At(Frequency.WEEKLY, (time(8),), date(2026, 3, 2), weekdays=(0,), interval=1_000)
    weekly = At(Frequency.WEEKLY, (time(8),), date(2026, 3, 2), weekdays=(0,))
    assert list(rule_days(weekly, date(2026, 3, 9), date(2026, 3, 9))) == [date(2026, 3, 9)]
    assert list(rule_days(rule, date(2026, 3, 2), date(2026, 12, 31))) == [date(2026, 3, 2)]
