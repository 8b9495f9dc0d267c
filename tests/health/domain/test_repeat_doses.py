"""Doses too soon after the last one: by product and plan together (common practice, no source)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from health.domain.advice import Level
from health.domain.medicine import Form, Medicine
from health.domain.repeat_doses import (
    PastDose,
    ago_in_words,
    course_ends_at,
    repeat_advice,
    repeat_dose_warning,
)

AT = datetime(2026, 3, 15, 19, 40, tzinfo=UTC)
WEEKLY = Medicine("Pyrantel syrup A", "pyrantel", Form.LIQUID, repeat_after_days=7)
FORTNIGHTLY = Medicine("Pyrantel syrup B", "pyrantel", Form.LIQUID, repeat_after_days=14)
THREE_DAYS = Medicine("Fenbendazole", "fenbendazole", Form.GRANULES, course_days=3, repeat_after_days=14)
UNSAID = Medicine("Drops", "something", Form.LIQUID)


def given_before(medicine: Medicine, **ago: float) -> PastDose:
    return PastDose(medicine.name, medicine.active, AT - timedelta(**ago), 10.0, "Idris Vane")


def codes(*args: object, **kwargs: object) -> list[tuple[str, Level]]:
    return [(one.code, one.level) for one in repeat_advice(*args, **kwargs)]  # type: ignore[arg-type]


def test_a_second_dose_warns_until_the_interval_has_passed_and_not_at_it() -> None:
    last = datetime(2026, 3, 14, 8, 5, tzinfo=UTC)
    assert repeat_dose_warning(last, last + timedelta(hours=24) - timedelta(seconds=1), 24)
    assert not repeat_dose_warning(last, last + timedelta(hours=24), 24)


def test_real_hours_count_when_clocks_change() -> None:
    london = ZoneInfo("Europe/London")
    evening, next_evening = datetime(2026, 3, 28, 20, tzinfo=london), datetime(2026, 3, 29, 20, tzinfo=london)
    assert repeat_dose_warning(evening.astimezone(UTC), next_evening.astimezone(UTC), 24)  # only 23 hours


def test_two_zones_name_the_same_instants() -> None:
    last = datetime(2026, 3, 15, 8, tzinfo=ZoneInfo("Asia/Kolkata"))
    assert not repeat_dose_warning(last, datetime(2026, 3, 15, 14, 30, tzinfo=UTC), 12)


def test_a_last_dose_in_the_future_warns_because_clocks_of_devices_differ() -> None:
    assert repeat_dose_warning(AT + timedelta(minutes=3), AT, 1)


@pytest.mark.parametrize("interval_h", [0, -1, float("nan"), float("inf")])
def test_an_impossible_interval_is_refused(interval_h: float) -> None:
    with pytest.raises(ValueError):
        repeat_dose_warning(AT, AT, interval_h)


def test_instants_without_offset_are_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        repeat_dose_warning(datetime(2026, 3, 15), AT, 24)


def test_a_dose_just_given_names_who_gave_it_and_when() -> None:
    (advice,) = repeat_advice(WEEKLY, [given_before(WEEKLY, minutes=35)], AT)
    assert (advice.code, advice.level) == ("given_recently", Level.WARNING)
    assert "35 min ago by Idris Vane" in advice.text


def test_a_label_list_with_gaps_of_seven_days_does_not_trip_the_fortnight_of_another_product() -> None:
    past = [given_before(WEEKLY, days=7)]
    assert codes(WEEKLY, past, AT, plan_gap_days=7) == []
    assert codes(FORTNIGHTLY, [given_before(FORTNIGHTLY, days=7)], AT) == [("given_recently", Level.WARNING)]


def test_the_same_active_in_another_product_is_said_aloud() -> None:
    assert codes(FORTNIGHTLY, [given_before(WEEKLY, days=7)], AT) == [
        ("same_active_in_another_product", Level.WARNING)
    ]
    assert codes(FORTNIGHTLY, [given_before(WEEKLY, days=14)], AT) == []


def test_earlier_than_the_plan_but_right_by_the_label_is_only_a_notice() -> None:
    past = [given_before(WEEKLY, days=8)]
    assert codes(WEEKLY, past, AT, plan_gap_days=14) == [("given_recently", Level.NOTICE)]


def test_where_the_label_names_no_interval_the_plan_warns() -> None:
    assert codes(UNSAID, [given_before(UNSAID, days=8)], AT, plan_gap_days=14) == [
        ("given_recently", Level.WARNING)
    ]
    assert codes(UNSAID, [given_before(UNSAID, days=8)], AT) == []
    assert codes(UNSAID, [given_before(UNSAID, hours=3)], AT) == [("given_recently", Level.WARNING)]


def test_a_dose_on_the_day_of_the_interval_is_on_time_at_any_hour() -> None:
    assert codes(FORTNIGHTLY, [given_before(FORTNIGHTLY, days=13, hours=14)], AT) == []
    assert codes(FORTNIGHTLY, [given_before(FORTNIGHTLY, days=13, hours=11)], AT) != []


def test_the_days_of_a_course_are_a_day_apart_and_the_next_course_counts_from_its_first_day() -> None:
    first = given_before(THREE_DAYS, hours=24)
    assert codes(THREE_DAYS, [first], AT) == []
    assert codes(THREE_DAYS, [given_before(THREE_DAYS, hours=5)], AT) == [("given_recently", Level.WARNING)]
    assert codes(THREE_DAYS, [given_before(THREE_DAYS, hours=23)], AT) == [("given_recently", Level.NOTICE)]
    course = [given_before(THREE_DAYS, days=day) for day in (10, 9, 8)]
    assert codes(THREE_DAYS, course, AT) == [("given_recently", Level.WARNING)]
    earlier = [given_before(THREE_DAYS, days=day) for day in (14, 13, 12)]
    assert codes(THREE_DAYS, earlier, AT) == []


def test_a_fourth_day_is_a_new_course_and_too_soon() -> None:
    course = [given_before(THREE_DAYS, days=day) for day in (3, 2, 1)]
    assert codes(THREE_DAYS, course, AT) == [("given_recently", Level.WARNING)]


def test_a_course_with_a_missing_day_is_named_and_never_made_up() -> None:
    (advice,) = repeat_advice(THREE_DAYS, [given_before(THREE_DAYS, days=4)], AT)
    assert advice.code == "course_interrupted"
    assert "Do not make up doses" in advice.text


def test_a_dose_spat_out_is_left_to_the_vet() -> None:
    last = PastDose(WEEKLY.name, WEEKLY.active, AT - timedelta(days=9), 10.0, "Oona Quill", kept=False)
    (advice,) = repeat_advice(WEEKLY, [last], AT)
    assert advice.code == "last_dose_not_kept"
    assert "vet decides" in advice.text


@pytest.mark.parametrize(
    ("elapsed", "text"),
    [
        (timedelta(minutes=35), "35 min ago"),
        (timedelta(hours=5), "5 h ago"),
        (timedelta(days=3, hours=5), "3 days ago"),
        (timedelta(minutes=-4), "0 min ago"),
    ],
)
def test_time_passed_is_said_in_the_unit_that_fits(elapsed: timedelta, text: str) -> None:
    assert ago_in_words(AT - elapsed, AT) == text


@given(minutes=st.integers(0, 60 * 24 * 40), later=st.integers(0, 60 * 24 * 40))
def test_once_a_repeat_is_fine_it_stays_fine(minutes: int, later: int) -> None:
    past = [PastDose(FORTNIGHTLY.name, "pyrantel", AT)]
    if repeat_advice(FORTNIGHTLY, past, AT + timedelta(minutes=minutes)) == ():
        assert repeat_advice(FORTNIGHTLY, past, AT + timedelta(minutes=minutes + later)) == ()


def test_a_course_that_goes_on_ends_with_its_last_dose_and_a_broken_one_does_not_go_on() -> None:
    # 21 CFR 520.905b: three days running; half an interval late at most is common practice, no source.
    first = AT - timedelta(hours=20)
    assert course_ends_at([first], 3, 24, AT) == first + timedelta(hours=48)
    assert course_ends_at([AT, first], 3, 24, AT) == AT + timedelta(hours=24)
    assert course_ends_at([AT - timedelta(hours=36)], 3, 24, AT) == AT + timedelta(hours=12)
    assert course_ends_at([AT - timedelta(hours=37)], 3, 24, AT) is None
    assert course_ends_at([AT - timedelta(days=days) for days in (2, 1, 0)], 3, 24, AT) is None
    assert course_ends_at([AT + timedelta(hours=1)], 3, 24, AT) is None
    assert course_ends_at([], 3, 24, AT) is None
