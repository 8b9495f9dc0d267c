"""After a stop: at most the newest occurrence of each schedule, only while it is useful."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from kennel.duties.domain.catch_up import LATE, Waiting, sort_out

NOW = datetime(2026, 2, 3, 7, 0, tzinfo=UTC)


def waiting(identifier: int, schedule: int | None, minutes_ago: int, useful_min: int) -> Waiting:
    due_at = NOW - timedelta(minutes=minutes_ago)
    return Waiting(identifier, schedule, due_at, due_at + timedelta(minutes=useful_min))


def test_of_each_schedule_the_newest_useful_one_is_late_and_the_others_are_missed() -> None:
    found = sort_out(
        [waiting(1, 7, 300, 600), waiting(2, 7, 180, 600), waiting(3, 7, 60, 600), waiting(4, 8, 90, 600)],
        NOW,
    )
    assert (found.on_time, found.late, found.missed) == ((), (4, 3), (1, 2))


def test_nothing_past_its_use_is_asked_for() -> None:
    found = sort_out([waiting(1, 7, 300, 600), waiting(2, 7, 60, 60)], NOW)
    assert (found.late, found.missed) == ((1,), (2,))


def test_what_is_due_since_less_than_five_minutes_goes_its_usual_way() -> None:
    assert sort_out([waiting(1, 7, 0, 60), waiting(2, 7, 5, 60)], NOW).on_time == (2, 1)
    assert sort_out([waiting(1, 7, 6, 60)], NOW).late == (1,)


def test_when_the_next_is_due_this_minute_the_late_ones_before_it_are_missed() -> None:
    found = sort_out([waiting(1, 7, 180, 600), waiting(2, 7, 60, 600), waiting(3, 7, 1, 600)], NOW)
    assert (found.on_time, found.late, found.missed) == ((3,), (), (1, 2))


def test_duties_made_by_hand_stand_each_for_themselves() -> None:
    assert sort_out([waiting(1, None, 90, 600), waiting(2, None, 60, 600)], NOW).late == (1, 2)


@given(
    st.lists(
        st.tuples(st.one_of(st.none(), st.integers(1, 3)), st.integers(0, 600), st.integers(1, 900)),
        max_size=30,
    )
)
def test_every_duty_ends_in_exactly_one_place_and_no_schedule_is_told_twice(
    rows: list[tuple[int | None, int, int]],
) -> None:
    given_duties = [waiting(n, *row) for n, row in enumerate(rows)]
    found = sort_out(given_duties, NOW)
    assert sorted([*found.on_time, *found.late, *found.missed]) == list(range(len(rows)))
    schedules = [given_duties[i].schedule for i in found.late if given_duties[i].schedule is not None]
    assert len(schedules) == len(set(schedules))
    assert all(given_duties[i].useful_until > NOW for i in (*found.late, *found.on_time))
    assert all(given_duties[i].due_at < NOW - LATE for i in found.late)
