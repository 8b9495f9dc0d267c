"""Single growth measures against published figures and worked algebra."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain import growth
from litters.domain.growth_measures import published_log_growth

any_float = st.floats(allow_nan=True, allow_infinity=True)
grams = st.floats(min_value=20, max_value=90_000)


# Mila et al. 2015, J Anim Sci 93:4436-4442 (summary): at or below -4 % by day 2.
@pytest.mark.parametrize(
    ("day2_g", "at_risk"), [(403.2, True), (403.3, False), (380.0, True), (441.0, False)]
)
def test_growth_to_day_2_of_minus_4_percent_or_less_is_a_risk(day2_g: float, at_risk: bool) -> None:
    assert growth.early_growth_at_risk(420.0, day2_g) is at_risk


# Dog Owner's Home Veterinary Handbook, ch. 17: 10 percent or more.
@pytest.mark.parametrize(("now_g", "alarm"), [(270.0, True), (270.1, False), (200.0, True), (330.0, False)])
def test_a_loss_of_a_tenth_or_more_alarms(now_g: float, alarm: bool) -> None:
    assert growth.loss_alarm(300.0, now_g) is alarm


# The same chapter: 25 percent below the average of the littermates.
@pytest.mark.parametrize(("pup_g", "low"), [(300.0, True), (300.5, False), (450.0, False)])
def test_a_quarter_below_the_littermates_is_low(pup_g: float, low: bool) -> None:
    assert growth.is_low_vs_litter(pup_g, 400.0) is low


@given(grams, st.sampled_from([-4.0, -10.0, 3.0]))
def test_a_weight_exactly_on_a_limit_counts_as_reaching_it_for_any_birth_weight(
    birth_g: float, limit_pct: float
) -> None:
    on_the_limit_g = birth_g * (1 + limit_pct / 100)
    assert growth.early_growth_at_risk(birth_g, on_the_limit_g, limit_pct)
    assert growth.loss_alarm(birth_g, on_the_limit_g, -limit_pct)


# Alves 2020, doi 10.1002/vms3.322; the sheet derives doubling at day 5.7 and tripling at day 9.5 from it.
def test_the_ceiling_doubles_and_triples_when_its_formula_says_so() -> None:
    assert growth.max_growth_curve_g(400, 0) == 400
    assert growth.max_growth_curve_g(400, 5.7) == pytest.approx(800, rel=0.01)
    assert growth.max_growth_curve_g(400, 9.5) == pytest.approx(1200, rel=0.01)


@pytest.mark.parametrize("day", [-0.01, 21.01, math.nan, math.inf])
def test_the_ceiling_is_refused_outside_the_days_it_was_measured_on(day: float) -> None:
    with pytest.raises(ValueError):
        growth.max_growth_curve_g(400, day)


@given(st.floats(min_value=0, max_value=20.5), st.floats(min_value=0.01, max_value=0.5))
def test_the_ceiling_rises_day_by_day(day: float, step: float) -> None:
    assert growth.max_growth_curve_g(300, day + step) > growth.max_growth_curve_g(300, day)


def test_doubling_is_read_off_straight_between_two_weighings() -> None:
    assert growth.day_reaching_multiple([(0, 200), (5, 310), (8, 400)]) == 8
    assert growth.day_reaching_multiple([(12, 700), (0, 300), (9, 560)]) == pytest.approx(9 + 3 * 40 / 140)
    assert growth.day_reaching_multiple([(0, 100), (4, 250), (5, 180), (6, 220)]) == pytest.approx(
        4 * 100 / 150
    )
    assert growth.day_reaching_multiple([(0, 100), (20, 350)], multiple=3) == pytest.approx(16)


@pytest.mark.parametrize(
    "log", [[], [(0, 300)], [(0, 300), (9, 560)], [(1, 300), (9, 700)], [(0, 300), (9, 650), (9, 700)]]
)
def test_doubling_is_refused_without_birth_weight_before_it_happened_or_with_two_weights_at_once(
    log: list[tuple[float, float]],
) -> None:
    with pytest.raises(ValueError):
        growth.day_reaching_multiple(log)


def test_a_gain_over_several_days_is_a_mean_of_the_first_weight_or_compounded() -> None:
    assert growth.daily_gain_pct(500, 535, 1) == pytest.approx(7)
    assert growth.daily_gain_pct(500, 570, 2) == pytest.approx(7)
    assert growth.compound_gain_pct_per_day(500, 500 * 1.07**2, 2) == pytest.approx(7)
    assert growth.compound_gain_pct_per_day(500, 535, 1) == pytest.approx(growth.daily_gain_pct(500, 535, 1))


# Small Animal Clinical Nutrition 5th ed., table 16-1.
@pytest.mark.parametrize(
    ("age_days", "pct", "g_per_kg"),
    [
        (0, (5, 10), None),
        (6.9, (5, 10), None),
        (7, (3.5, 6), None),
        (27.9, (3.5, 6), None),
        (28, None, (2, 2)),
        (69.9, None, (2, 2)),
        (70, None, (2, 4)),
    ],
)
def test_expected_gain_follows_the_published_table_by_age(
    age_days: float, pct: tuple[float, float] | None, g_per_kg: tuple[float, float] | None
) -> None:
    assert growth.gain_band_pct_per_day(age_days) == pct
    assert growth.gain_band_g_per_kg_adult(age_days) == g_per_kg


def test_the_published_pace_is_a_day_of_nothing_then_8_then_5_percent_a_day() -> None:
    assert published_log_growth(24) == 0
    assert math.exp(published_log_growth(48)) == pytest.approx(1.08)
    assert math.exp(published_log_growth(168)) == pytest.approx(1.08**6)
    assert math.exp(published_log_growth(192)) == pytest.approx(1.08**6 * 1.05)


# Small Animal Clinical Nutrition: one pup 1 % (giants) to 6.5 % (toys) of the dam's weight.
def test_birth_weight_is_given_as_a_share_of_the_dam() -> None:
    assert growth.birth_weight_pct_of_dam(320, 32) == pytest.approx(1)
    assert growth.birth_weight_pct_of_dam(130, 2) == pytest.approx(6.5)


@given(any_float, any_float, any_float)
def test_every_measure_gives_a_finite_number_or_refuses(a: float, b: float, c: float) -> None:
    for measure in (
        lambda: growth.early_growth_rate_pct(a, b),
        lambda: growth.weight_loss_pct(a, b),
        lambda: growth.low_vs_litter_pct(a, b),
        lambda: growth.daily_gain_from_adult_g(a, b),
        lambda: growth.birth_weight_pct_of_dam(a, b),
        lambda: growth.daily_gain_pct(a, b, c),
        lambda: growth.compound_gain_pct_per_day(a, b, c),
        lambda: growth.max_growth_curve_g(a, b),
        lambda: growth.day_reaching_multiple([(0.0, a), (b, c)]),
    ):
        try:
            result = measure()
        except ValueError:
            continue
        assert math.isfinite(result)


@given(any_float, any_float, any_float)
def test_every_flag_gives_yes_or_no_or_refuses(a: float, b: float, limit_pct: float) -> None:
    for flag in (growth.early_growth_at_risk, growth.loss_alarm, growth.is_low_vs_litter):
        try:
            result = flag(a, b, limit_pct)
        except ValueError:
            continue
        assert isinstance(result, bool)


@given(grams, grams, grams)
def test_a_heavier_pup_has_lost_less_and_is_less_far_below(
    birth_g: float, one_g: float, other_g: float
) -> None:
    low_g, high_g = sorted((one_g, other_g))
    assert growth.weight_loss_pct(birth_g, high_g) <= growth.weight_loss_pct(birth_g, low_g)
    assert growth.low_vs_litter_pct(high_g, birth_g) <= growth.low_vs_litter_pct(low_g, birth_g)
