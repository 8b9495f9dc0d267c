"""Newborn care by age against the published tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain import neonate
from litters.domain.watch_limits import Limits, TemperatureLine, WeighingRhythm


# A veterinary reproduction page: completed days 0-6, 7-20, 21-30.
@pytest.mark.parametrize(
    ("day", "line_c"), [(0, 35.0), (6, 35.0), (7, 36.0), (20, 36.0), (21, 37.0), (30, 37.0), (31, None)]
)
def test_the_temperature_line_follows_completed_days(day: int, line_c: float | None) -> None:
    assert Limits().temperature_line_c(day) == line_c
    if line_c is not None:
        assert neonate.temperature_advice(line_c - 0.01, day).is_hand_feeding_blocked
        assert not neonate.temperature_advice(line_c, day).is_hand_feeding_blocked


@pytest.mark.parametrize(("age_h", "days"), [(0, 0), (23.99, 0), (24, 1), (167.9, 6), (168, 7)])
def test_an_age_counts_completed_days(age_h: float, days: int) -> None:
    assert neonate.completed_days(age_h) == days


def test_gut_standstill_blocks_milk_at_any_age_and_a_line_of_the_kennel_replaces_the_published_one() -> None:
    assert neonate.temperature_advice(34.4, 40).is_hand_feeding_blocked
    own = Limits(temperature_lines=(TemperatureLine(0, 30, 35.5),))
    assert neonate.temperature_advice(35.4, 10, limits=own).is_below_line
    assert not neonate.temperature_advice(35.6, 10, limits=own).is_below_line


def test_a_warm_pup_that_will_not_suck_gets_no_bottle_but_the_vet() -> None:
    advice = neonate.temperature_advice(36.5, 3, is_sucking=False)
    assert advice.is_hand_feeding_blocked
    assert not advice.is_below_line
    assert "vet" in advice.words
    assert not neonate.temperature_advice(36.5, 3, is_sucking=True).is_hand_feeding_blocked


def test_above_39_degrees_the_box_is_cooled_and_the_vet_called() -> None:
    assert not neonate.temperature_advice(39.0, 3).is_too_hot
    hot = neonate.temperature_advice(39.1, 3)
    assert hot.is_too_hot
    assert "Cool the box" in hot.words


# Canine nutrition text on orphans and handbook; Univ. of Minnesota notes for orphans.
@pytest.mark.parametrize(
    ("day", "orphan", "span"),
    [(0, False, (29.5, 32.0)), (6, False, (29.5, 32.0)), (7, False, (26.5, 29.5)), (27, False, (26.5, 29.5)),
     (28, False, (21.0, 24.0)), (34, False, (21.0, 24.0)), (35, False, None), (0, True, (29.5, 29.5)),
     (13, True, (29.5, 29.5)), (14, True, (26.5, 26.5)), (27, True, (26.5, 26.5)), (28, True, (21.0, 24.0))],
)  # fmt: skip
def test_the_pups_own_zone_is_warm_by_age(day: int, orphan: bool, span: tuple[float, float] | None) -> None:
    target = neonate.pup_zone_target_c(day, orphan)
    assert (None if target is None else (target.low, target.high)) == span


# The book prints 85-90, 80-85 and 70-75 F; the Celsius figures are those rounded to half a degree.
@pytest.mark.parametrize(("day", "low_f", "high_f"), [(0, 85, 90), (7, 80, 85), (28, 70, 75)])
def test_the_zone_in_celsius_is_the_printed_fahrenheit_range(day: int, low_f: float, high_f: float) -> None:
    target = neonate.pup_zone_target_c(day)
    assert target is not None
    assert target.low == pytest.approx((low_f - 32) / 1.8, abs=0.3)
    assert target.high == pytest.approx((high_f - 32) / 1.8, abs=0.3)


# SI 2018/486 Sch. 6 para 2(6): 26 to 28 C is the area, not the pups' own warm spot.
def test_the_english_whelping_area_is_cooler_than_the_pups_first_zone() -> None:
    first = neonate.pup_zone_target_c(0)
    assert first is not None
    assert (neonate.ENGLAND_WHELPING_AREA_C.low, neonate.ENGLAND_WHELPING_AREA_C.high) == (26.0, 28.0)
    assert neonate.ENGLAND_WHELPING_AREA_C.high < first.low


# Small Animal Clinical Nutrition 5th ed., table 16-1.
@pytest.mark.parametrize(
    ("day", "rectal", "heart", "breaths"),
    [(0, (34.7, 36.3), (230, 240), (15, 35)), (1, (34.5, 37.2), (230, 240), None),
     (14, (36.0, 37.8), (210, 220), None), (28, (37.8, 38.3), (195, 195), None),
     (42, (37.8, 38.3), (185, 185), None), (49, (37.8, 38.3), (165, 175), None),
     (84, (37.8, 38.3), None, None)],
)  # fmt: skip
def test_vital_signs_are_those_of_the_table(
    day: int,
    rectal: tuple[float, float],
    heart: tuple[float, float] | None,
    breaths: tuple[float, float] | None,
) -> None:
    signs = neonate.vital_signs(day)
    found = [
        None if span is None else (span.low, span.high)
        for span in (signs.rectal_c, signs.heart_per_minute, signs.breaths_per_minute)
    ]
    assert found == [rectal, heart, breaths]


# Mila et al. 2014 and 2017: at or below the limit.
def test_blood_values_count_at_their_limit() -> None:
    assert neonate.is_igg_low(230)
    assert not neonate.is_igg_low(230.1)
    assert neonate.is_glucose_low(92)
    assert not neonate.is_glucose_low(92.1)
    for wrong in (-1.0, math.nan, math.inf):
        with pytest.raises(ValueError):
            neonate.is_igg_low(wrong)


# Handbook, Merck, Battaglia 2009: the days of the table.
@pytest.mark.parametrize(
    ("day", "keys"),
    [(2, set()), (5, {"early_stimulation", "front_legs"}),
     (12, {"early_stimulation", "eyes_open", "ears_open"}),
     (14, {"early_stimulation", "eyes_open", "ears_open", "stands"}), (18, {"ears_open", "shivers"}),
     (25, {"milk_teeth", "socialisation", "sight_and_sound"}),
     (49, {"milk_teeth", "socialisation", "weaned"}),
     (85, set())],
)  # fmt: skip
def test_milestones_are_due_on_their_published_days(day: int, keys: set[str]) -> None:
    found = list(neonate.milestones_at(day))
    assert {stone.key for stone in found} == keys
    assert all(stone.source and stone.status for stone in found)


def test_no_stimulation_programme_outside_days_3_to_16_or_for_a_pup_under_watch() -> None:
    assert [day for day in range(20) if neonate.may_stimulate(day, False)] == list(range(3, 17))
    assert not any(neonate.may_stimulate(day, True) for day in range(20))


# Dog Owner's Home Veterinary Handbook: birth, 12 h, daily to day 14, then every third day to 1 month.
@pytest.mark.parametrize(
    ("age_h", "every_h"), [(0, 12), (12, 24), (335, 24), (336, 72), (719, 72), (720, 168)]
)
def test_the_weighing_rhythm_is_the_handbooks(age_h: float, every_h: float) -> None:
    assert Limits().weighing_every_h(age_h) == every_h


@pytest.mark.parametrize(
    "build",
    [
        lambda: TemperatureLine(7, 6, 36.0),
        lambda: TemperatureLine(0, 6, 97.0),
        lambda: WeighingRhythm(24, 0),
        lambda: Limits().temperature_line_c(-1),
        lambda: neonate.pup_zone_target_c(-1),
        lambda: neonate.vital_signs(-1),
        lambda: list(neonate.milestones_at(-1)),
        lambda: neonate.completed_days(-0.1),
    ],
)
def test_an_impossible_age_or_setting_is_refused(build) -> None:
    with pytest.raises(ValueError):
        build()


@given(st.floats(allow_nan=True, allow_infinity=True), st.integers(min_value=-5, max_value=400))
def test_any_temperature_is_judged_or_refused(rectal_c: float, day: int) -> None:
    try:
        advice = neonate.temperature_advice(rectal_c, day)
    except ValueError:
        assert not (20 <= rectal_c <= 45 and day >= 0)
        return
    assert advice.words
    assert not (advice.is_too_hot and advice.is_below_line)


@given(st.floats(min_value=20, max_value=45), st.floats(min_value=0, max_value=10), st.integers(0, 40))
def test_a_warmer_pup_is_never_blocked_where_a_colder_one_is_not(
    cold_c: float, more: float, day: int
) -> None:
    warm_c = min(45.0, cold_c + more)
    if not neonate.temperature_advice(cold_c, day).is_hand_feeding_blocked:
        assert not neonate.temperature_advice(warm_c, day).is_hand_feeding_blocked
