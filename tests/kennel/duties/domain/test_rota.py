"""Who is on duty at an instant."""

from datetime import UTC, date, datetime, time, timedelta

from kennel.duties.domain.rota import ShiftTimes, on_duty, spans

LONDON = "Europe/London"


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def shift(carer: int, begin: str, end: str, **more: object) -> ShiftTimes:
    first = more.pop("first_on", date(2026, 1, 1))
    last = more.pop("last_on", None)
    return ShiftTimes(carer, first, last, time.fromisoformat(begin), time.fromisoformat(end), **more)  # type: ignore[arg-type]


def who(shifts: list[ShiftTimes], at: str, zone: str = LONDON) -> list[int]:
    return [one.carer_id for one in on_duty(shifts, utc(at), zone)]


def test_a_night_shift_lasts_over_midnight_and_ends_before_its_end() -> None:
    night = [shift(1, "22:00", "06:00")]
    assert who(night, "2026-02-03 21:59") == []
    assert who(night, "2026-02-03 22:00") == [1]
    assert who(night, "2026-02-04 05:59") == [1]
    assert who(night, "2026-02-04 06:00") == []


def test_a_shift_belongs_to_the_day_it_begins_on() -> None:
    # 3 February 2026 is a Tuesday (1).
    night = [shift(1, "22:00", "06:00", weekdays=(1,))]
    assert who(night, "2026-02-04 03:00") == [1]
    assert who(night, "2026-02-03 03:00") == []
    once = [shift(1, "22:00", "06:00", first_on=date(2026, 2, 3), last_on=date(2026, 2, 3))]
    assert who(once, "2026-02-04 05:00") == [1]
    assert who(once, "2026-02-04 23:00") == []


def test_equal_times_mean_the_whole_day() -> None:
    assert who([shift(1, "08:00", "08:00", last_on=date(2026, 1, 1))], "2026-01-02 07:59") == [1]


def test_the_best_rank_comes_first_then_who_began_first_and_each_carer_stands_once() -> None:
    shifts = [
        shift(3, "20:00", "08:00", rank=2),
        shift(2, "22:00", "06:00"),
        shift(1, "21:00", "06:00"),
        shift(3, "23:00", "05:00", rank=1),
    ]
    assert who(shifts, "2026-02-04 00:30") == [1, 2, 3]
    assert who(shifts, "2026-02-04 05:30") == [1, 2, 3]
    assert [one.rank for one in on_duty(shifts, utc("2026-02-04 05:30"), LONDON)] == [1, 1, 2]


def test_the_night_the_clocks_go_back_is_an_hour_longer_and_the_one_they_go_forward_an_hour_shorter() -> None:
    # Last Sundays of October and March (Directive 2000/84/EC).
    night = shift(1, "22:00", "06:00")
    long = list(spans(night, utc("2026-10-25 03:00"), LONDON))
    short = list(spans(night, utc("2026-03-29 03:00"), LONDON))
    assert timedelta(hours=9) in {end - begin for begin, end in long}
    assert timedelta(hours=7) in {end - begin for begin, end in short}


def test_a_shift_that_ends_in_the_repeated_hour_ends_at_its_second_passing() -> None:
    # London, 25 October 2026: 01:30 comes at 00:30 UTC and again at 01:30 UTC.
    assert who([shift(1, "20:00", "01:30")], "2026-10-25 01:29") == [1]
    assert who([shift(1, "20:00", "01:30")], "2026-10-25 01:30") == []
