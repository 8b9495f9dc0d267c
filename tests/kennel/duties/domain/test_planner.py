"""The planner on nights when clocks change, over stops and changes of rules.

Instants are stated from published rules: summer time in the Union begins and ends at 01:00 UTC on the last
Sundays of March and October (Directive 2000/84/EC,
    articles 2 and 3; the United Kingdom keeps the same days).  Lord Howe
Island moves by half an hour at 02:00 between UTC+10:30 and UTC+11 (IANA tz database, Australia/Lord_Howe).  A
skipped time moves forward by the gap: RFC 5545,
    3.3.5.  Plain daily lists are checked against python-dateutil.
"""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest
from dateutil.rrule import DAILY, rrule
from hypothesis import given
from hypothesis import strategies as st

from kennel.clock.recurrence import At, Every, Frequency
from kennel.duties.domain.planner import AHEAD, LOOK_BACK, Existing, Plan, Schedule, bounds, plan

LONDON, KOLKATA, LORD_HOWE = "Europe/London", "Asia/Kolkata", "Australia/Lord_Howe"


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def daily(*times: str, first_on: date = date(2020, 1, 1), interval: int = 1) -> At:
    return At(Frequency.DAILY, tuple(map(time.fromisoformat, times)), first_on, interval=interval)


def planned(rule: At | Every, now: datetime, zone: str = LONDON, **schedule: object) -> list[datetime]:
    found = plan([Schedule(1, rule, **schedule)], [], now, zone)  # type: ignore[arg-type]
    return [one.due_at for one in found.create]


def test_a_time_the_spring_gap_skips_moves_forward_by_the_gap_and_is_not_dropped() -> None:
    # 01:30 on 29 March 2026 does not exist in London; it becomes 02:30 British Summer Time, 01:30 UTC.
    assert planned(daily("01:30"), utc("2026-03-28 00:00")) == [
        utc("2026-03-28 01:30"),
        utc("2026-03-29 01:30"),
        utc("2026-03-30 00:30"),
    ]


def test_a_time_the_autumn_night_repeats_is_due_once_at_its_first_passing() -> None:
    assert planned(daily("01:30"), utc("2026-10-24 00:00")) == [
        utc("2026-10-24 00:30"),
        utc("2026-10-25 00:30"),
        utc("2026-10-26 01:30"),
    ]


def test_a_planner_run_inside_the_repeated_hour_does_not_ask_twice() -> None:
    rule, key = daily("01:30"), "2026-10-25T01:30"
    stored = [Existing(1, key, utc("2026-10-25 00:30"), False)]
    for now in ("2026-10-25 00:31", "2026-10-25 01:10", "2026-10-25 01:30", "2026-10-25 01:59"):
        found = plan([Schedule(1, rule, planned_until=utc("2026-10-25 00:00"))], stored, utc(now), LONDON)
        assert key not in {one.key for one in found.create}


def test_wall_time_stays_put_in_a_zone_without_changes() -> None:
    # India Standard Time is UTC+05:30 all year.
    assert planned(daily("06:00"), utc("2026-03-28 00:00"), KOLKATA) == [
        utc("2026-03-28 00:30"),
        utc("2026-03-29 00:30"),
        utc("2026-03-30 00:30"),
    ]


def test_the_half_hour_change_of_lord_howe() -> None:
    # 4 October 2026, 02:00 becomes 02:30: 02:15 moves to 02:45 at UTC+11, which is 15:45 UTC of the day
    # before.
    assert planned(daily("02:15"), utc("2026-10-02 00:00"), LORD_HOWE)[1] == utc("2026-10-03 15:45")
    # 5 April 2026, 02:00 goes back to 01:30: the first 01:45 is still at UTC+11.
    assert planned(daily("01:45"), utc("2026-04-03 00:00"), LORD_HOWE)[1] == utc("2026-04-04 14:45")


def test_elapsed_time_keeps_its_distance_through_both_nights() -> None:
    for night in ("2026-03-28 12:00", "2026-10-24 12:00"):
        found = planned(Every(timedelta(hours=2), utc(night)), utc(night))
        assert {b - a for a, b in pairwise(found)} == {timedelta(hours=2)}
        assert len(found) == 36


def test_29_february_is_a_day_like_any_other_and_comes_only_in_leap_years() -> None:
    rule = At(Frequency.MONTHLY, (time(9),), date(2024, 1, 29), month_days=(29,))
    assert planned(rule, utc("2028-02-28 00:00")) == [utc("2028-02-29 09:00")]
    assert planned(rule, utc("2026-02-27 00:00")) == []


def test_the_year_turns_without_a_gap() -> None:
    assert planned(daily("23:30", "00:15"), utc("2026-12-31 00:00")) == [
        utc("2026-12-31 00:15"),
        utc("2026-12-31 23:30"),
        utc("2027-01-01 00:15"),
        utc("2027-01-01 23:30"),
        utc("2027-01-02 00:15"),
        utc("2027-01-02 23:30"),
    ]


@given(
    now=st.datetimes(datetime(2024, 1, 1), datetime(2030, 1, 1)),
    interval=st.integers(1, 9),
    hour=st.integers(0, 23),
)
def test_a_daily_list_equals_that_of_dateutil(now: datetime, interval: int, hour: int) -> None:
    first = datetime(2024, 1, 1, hour)
    expected = rrule(DAILY, dtstart=first, interval=interval).between(now, now + AHEAD, inc=True)
    found = planned(
        daily(f"{hour:02}:00", first_on=first.date(), interval=interval), now.replace(tzinfo=UTC), "UTC"
    )
    assert [one.replace(tzinfo=None) for one in found] == [one for one in expected if one < now + AHEAD]


def test_an_occurrence_exactly_now_is_made_and_one_at_the_end_of_the_72_hours_is_left_to_the_next_time() -> (
    None
):
    found = planned(Every(timedelta(hours=72), utc("2026-02-03 12:00")), utc("2026-02-03 12:00"))
    assert found == [utc("2026-02-03 12:00")]


def test_a_new_routine_asks_nothing_for_the_time_before_it_existed() -> None:
    assert planned(daily("08:00"), utc("2026-02-03 12:00"))[0] == utc("2026-02-04 08:00")


def test_after_a_long_stop_what_was_not_planned_is_made_up_to_a_week_back() -> None:
    now = utc("2026-02-20 12:00")
    found = planned(daily("08:00"), now, planned_until=utc("2026-02-17 09:00"))
    assert found[0] == utc("2026-02-18 08:00")
    found = planned(daily("08:00"), now, planned_until=utc("2026-01-01 00:00"))
    assert found[0] >= now - LOOK_BACK


def test_dates_bound_a_routine_the_end_excluded() -> None:
    starts, ends = utc("2026-02-04 17:00"), utc("2026-02-05 17:00")
    assert planned(daily("17:00"), utc("2026-02-03 12:00"), starts_at=starts, ends_at=ends) == [starts]


def test_ages_bound_a_routine_by_whole_local_days() -> None:
    start, end = bounds(None, None, date(2026, 1, 7), 28, 29, LONDON)
    assert (start, end) == (utc("2026-02-04 00:00"), utc("2026-02-06 00:00"))
    # Across the spring change: day 81 begins at midnight British Summer Time, 23:00 UTC.
    assert bounds(None, None, date(2026, 1, 9), 81, None, LONDON)[0] == utc("2026-03-30 23:00")
    assert bounds(utc("2026-02-05 00:00"), None, date(2026, 1, 7), 28, None, LONDON)[0] == utc(
        "2026-02-05 00:00"
    )


def test_what_is_sent_or_settled_is_neither_moved_nor_called_off() -> None:
    stored = [Existing(1, "2026-02-03T17:00", utc("2026-02-03 17:00"), False)]
    found = plan([Schedule(1, daily("18:00"))], stored, utc("2026-02-03 12:00"), LONDON)
    assert (found.keep, found.cancel) == ((), ())


def test_what_lies_ahead_and_is_not_wanted_any_more_is_called_off() -> None:
    stored = [Existing(1, "2026-02-03T17:00", utc("2026-02-03 17:00"), True)]
    found = plan([Schedule(1, daily("18:00"))], stored, utc("2026-02-03 12:00"), LONDON)
    assert [one.key for one in found.cancel] == ["2026-02-03T17:00"]
    assert plan(
        [Schedule(1, daily("17:00"), is_active=False)], stored, utc("2026-02-03 12:00"), LONDON
    ) == Plan((), (), tuple(stored))


def test_new_zone_rules_move_an_occurrence_under_its_old_key() -> None:
    stored = [Existing(1, "2026-07-01T08:00", utc("2026-07-01 08:00"), True)]
    found = plan([Schedule(1, daily("08:00"))], stored, utc("2026-06-30 12:00"), LONDON)
    assert [(one.key, one.due_at) for one in found.keep] == [("2026-07-01T08:00", utc("2026-07-01 07:00"))]


def test_what_was_put_off_by_hand_stays_whatever_the_rule_says() -> None:
    stored = [Existing(1, "defer=x", utc("2026-02-10 17:00"), True)]
    found = plan([Schedule(1, daily("18:00"))], stored, utc("2026-02-03 12:00"), LONDON)
    assert ([one.key for one in found.keep], found.cancel) == (["defer=x"], ())


def test_from_completion_only_the_next_is_known() -> None:
    rule = Every(timedelta(hours=2), utc("2026-02-03 13:00"), from_completion=True)
    done = utc("2026-02-03 13:10")
    assert planned(rule, utc("2026-02-03 13:11"), last_done_at=done) == [utc("2026-02-03 15:10")]
    assert planned(rule, utc("2026-02-03 13:11"), last_done_at=done, waits=True) == [utc("2026-02-03 15:10")]
    # Overdue and nobody is asked yet: now, not for the past.
    assert planned(rule, utc("2026-02-03 19:00"), last_done_at=done) == [utc("2026-02-03 19:00")]
    # Overdue and still open: that one stays alone.
    assert planned(rule, utc("2026-02-03 19:00"), last_done_at=done, waits=True) == []
    assert planned(rule, utc("2026-02-03 12:00"), ends_at=utc("2026-02-03 12:30")) == []


rules = st.one_of(
    st.builds(
        lambda hours, minute: daily(*{f"{h:02}:{minute:02}" for h in hours}),
        st.sets(st.integers(0, 23), min_size=1, max_size=4),
        st.sampled_from([0, 15, 30, 45]),
    ),
    st.builds(
        lambda minutes, anchor: Every(timedelta(minutes=minutes), anchor.replace(tzinfo=UTC)),
        st.integers(30, 3000),
        st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)),
    ),
)


@given(
    rule=rules,
    zone=st.sampled_from([LONDON, KOLKATA, LORD_HOWE, "America/New_York", "Pacific/Apia"]),
    start=st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 1)),
    steps=st.lists(st.integers(1, 4000), min_size=1, max_size=8),
)
def test_however_often_the_planner_runs_each_occurrence_is_made_once_and_none_is_left_out(
    rule: At | Every, zone: str, start: datetime, steps: list[int]
) -> None:
    now = start.replace(tzinfo=UTC)
    begin, until = now, None
    stored: list[Existing] = []
    for minutes in [0, *steps]:
        now += timedelta(minutes=minutes)
        for _ in range(2):  # a doubled tick
            stored = [Existing(1, one.key, one.due_at, one.due_at > now) for one in stored]
            found = plan([Schedule(1, rule, planned_until=until)], stored, now, zone)
            stored += [Existing(1, one.key, one.due_at, one.due_at > now) for one in found.create]
            assert found.cancel == ()
            until = now + AHEAD
    keys = [one.key for one in stored]
    assert len(keys) == len(set(keys))
    whole = plan([Schedule(1, rule)], [], begin, zone, ahead=now + AHEAD - begin)
    assert {one.due_at for one in stored} == {one.due_at for one in whole.create}


def test_an_unknown_zone_is_an_error() -> None:
    with pytest.raises(ValueError):
        planned(daily("08:00"), utc("2026-02-03 12:00"), "Europe/Nowhere")
