"""Growth curves and fits against published identities and scipy."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from litters.domain import growth

any_float = st.floats(allow_nan=True, allow_infinity=True)

SERIES_FILE = Path(__file__).parents[2] / "reference" / "cases" / "weight_series.csv"


def _series() -> list[tuple[float, float]]:
    with SERIES_FILE.open(encoding="utf-8") as file:
        return [(float(row["age_days"]), float(row["weight_kg"])) for row in csv.DictReader(file)]


# Helmink et al. 2000, J Anim Sci 78:27-32: form, Wmax of a Labrador male 31.4 kg; the rest is its algebra.
def test_the_gompertz_curve_keeps_the_identities_of_its_form() -> None:
    wmax, b, c = 31.4, 56.0, 100.0
    assert growth.gompertz_kg(c, wmax, b, c) == pytest.approx(wmax / math.e)
    end = growth.gompertz_growth_duration_days(b, c)
    assert end == 324
    assert growth.gompertz_kg(end, wmax, b, c) == pytest.approx(0.9818 * wmax, rel=1e-4)
    slope = (growth.gompertz_kg(c + 1e-4, wmax, b, c) - growth.gompertz_kg(c - 1e-4, wmax, b, c)) / 2e-4
    assert growth.gompertz_peak_gain_kg_per_day(wmax, b) == pytest.approx(slope, rel=1e-6)


@given(
    st.floats(min_value=0.02, max_value=0.98),
    st.floats(min_value=20, max_value=120),
    st.floats(min_value=40, max_value=250),
)
def test_age_and_fraction_of_adult_weight_are_inverse_on_both_curves(q: float, b: float, c: float) -> None:
    assert growth.gompertz_kg(growth.gompertz_age_at_fraction_days(q, b, c), 1.0, b, c) == pytest.approx(q)
    assert growth.logistic_kg(growth.logistic_age_at_fraction(q, b, c), 1.0, b, c) == pytest.approx(q)


@given(st.floats(min_value=30, max_value=400), st.floats(min_value=1, max_value=90))
def test_a_prediction_from_one_weighing_returns_the_weight_it_came_from(age: float, wmax: float) -> None:
    kg = growth.gompertz_kg(age, wmax, 56.0, 100.0)
    assert growth.gompertz_predict_wmax_kg(age, kg, 56.0, 100.0) == pytest.approx(wmax)
    assert growth.logistic_predict_a_kg(
        age, growth.logistic_kg(age, wmax, 30, 110), 30, 110
    ) == pytest.approx(wmax)


# Posada et al., Rev MVZ Cordoba: large dogs half grown at 5.27 months, 99 % at 14.37 months.
def test_the_logistic_curve_is_at_half_and_at_99_percent_when_published() -> None:
    b = growth.logistic_b_from_t99(14.37, 5.27)
    assert growth.logistic_kg(5.27, 30, b, 5.27) == pytest.approx(15)
    assert growth.logistic_kg(14.37, 30, b, 5.27) == pytest.approx(29.7)
    assert growth.logistic_t99(b, 5.27) == pytest.approx(14.37)


def _gompertz(t: np.ndarray, wmax: float, b: float, c: float) -> np.ndarray:
    return wmax * np.exp(-np.exp(-(t - c) / b))


def _logistic(t: np.ndarray, wmax: float, b: float, c: float) -> np.ndarray:
    return wmax / (1 + np.exp(-(t - c) / b))


# Independent library: scipy.optimize.curve_fit, same start values.
@pytest.mark.parametrize(
    ("fit", "curve"),
    [(growth.fit_gompertz, _gompertz), (growth.fit_logistic, _logistic)],
    ids=["gompertz", "logistic"],
)
def test_a_fit_agrees_with_scipy_in_parameters_and_standard_error(fit, curve) -> None:
    series = _series()
    ages, weights = np.array(series).T
    parameters, covariance = curve_fit(curve, ages, weights, p0=(1.1 * weights.max(), 55.0, 95.0))
    ours = fit(series)
    assert (ours.wmax_kg, ours.b_days, ours.c_days) == pytest.approx(tuple(parameters), rel=1e-4)
    assert ours.wmax_standard_error_kg == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-3)
    assert ours.rmse_kg == pytest.approx(
        np.sqrt(np.mean((weights - curve(ages, *parameters)) ** 2)), rel=1e-6
    )


# Independent library: scipy.optimize.curve_fit on log weights.
def test_a_fit_on_log_weights_agrees_with_scipy() -> None:
    ages, weights = np.array(_series()).T
    parameters, _ = curve_fit(
        lambda t, wmax, b, c: np.log(_gompertz(t, wmax, b, c)), ages, np.log(weights), p0=(34.0, 55.0, 95.0)
    )
    ours = growth.fit_gompertz(_series(), log_weights=True)
    assert (ours.wmax_kg, ours.b_days, ours.c_days) == pytest.approx(tuple(parameters), rel=1e-4)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(min_value=2, max_value=80),
    st.floats(min_value=25, max_value=90),
    st.floats(min_value=50, max_value=160),
)
def test_a_fit_finds_the_curve_that_made_the_weights(wmax: float, b: float, c: float) -> None:
    ages = [14 + step * (4 * b + c) / 11 for step in range(12)]
    ours = growth.fit_gompertz([(age, growth.gompertz_kg(age, wmax, b, c)) for age in ages])
    assert (ours.wmax_kg, ours.b_days, ours.c_days) == pytest.approx((wmax, b, c), rel=1e-5)
    assert ours.rmse_kg < 1e-4 * wmax


# The refusals of the sheet's section on fitting (common practice, no source).
@pytest.mark.parametrize(
    "points",
    [
        [(14.0, 0.3), (28.0, 0.85), (42.0, 1.85), (56.0, 3.5)],
        [(14.0, 0.3), (28.0, 0.85), (42.0, 1.85), (56.0, 3.5), (63.0, 4.6), (70.0, 5.8)],
        [(0.0, 1.0), (10.0, 1.0), (20.0, 1.0), (30.0, 1.0), (40.0, 1.0)],
        [(14.0, 0.3), (28.0, 0.85), (42.0, 1.85), (56.0, 3.5), (56.0, math.nan)],
        [(14.0, 0.3), (14.0, 0.31), (14.0, 0.32), (14.0, 0.33), (14.0, 0.34)],
    ],
    ids=["too few", "before the steepest growth", "no growth", "not a number", "one age"],
)
def test_a_fit_that_would_be_a_guess_is_refused(points: list[tuple[float, float]]) -> None:
    with pytest.raises(ValueError):
        growth.fit_gompertz(points)


def test_adult_weight_is_a_range_for_each_model_and_the_logistic_one_lies_lower() -> None:
    gompertz, logistic = growth.adult_weight_ranges(_series())
    assert (gompertz.model, logistic.model) == ("gompertz", "logistic")
    assert gompertz.low_kg < growth.fit_gompertz(_series()).wmax_kg < gompertz.high_kg
    assert logistic.high_kg < gompertz.high_kg
    assert growth.adult_weight_ranges(_series()[:5]) == ()


# Posada et al.: small dogs half grown at 3.49 months, so a small pup then weighs half its adult weight.
def test_one_weighing_gives_a_range_around_the_published_half_way_point() -> None:
    half_grown = growth.adult_weight_from_one_weighing(3.49 * 365.25 / 12, 4.0, "small")
    assert half_grown.model == "logistic"
    assert half_grown.low_kg < 8.0 < half_grown.high_kg
    assert half_grown.high_kg - half_grown.low_kg < 0.5
    early = growth.adult_weight_from_one_weighing(30, 4.0, "large")
    assert "Before 12 weeks" in early.caution
    assert early.high_kg > 2 * early.low_kg


def test_parents_give_a_range_between_the_parent_of_the_pups_sex_and_their_mean() -> None:
    bramble_kg, marram_kg = 19.0, 23.0
    female = growth.adult_weight_from_parents(bramble_kg, marram_kg, "female")
    assert (female.low_kg, female.high_kg) == (19.0, 21.0)
    male = growth.adult_weight_from_parents(bramble_kg, marram_kg, "male")
    assert (male.low_kg, male.high_kg) == (21.0, 23.0)
    alone = growth.adult_weight_from_parents(bramble_kg, None, "male")
    assert (alone.low_kg, alone.high_kg, alone.model) == (19.0, 19.0, "dam's weight")
    with pytest.raises(ValueError):
        growth.adult_weight_from_parents(bramble_kg, None, "unknown")


@given(any_float, any_float, any_float, any_float)
def test_every_curve_and_score_gives_a_finite_number_or_refuses(
    a: float, b: float, c: float, d: float
) -> None:
    for function in (
        lambda: growth.gompertz_kg(a, b, c, d),
        lambda: growth.gompertz_peak_gain_kg_per_day(a, b),
        lambda: growth.gompertz_age_at_fraction_days(a, b, c),
        lambda: growth.gompertz_growth_duration_days(a, b),
        lambda: growth.gompertz_predict_wmax_kg(a, b, c, d),
        lambda: growth.logistic_kg(a, b, c, d),
        lambda: growth.logistic_t99(a, b),
        lambda: growth.logistic_b_from_t99(a, b),
        lambda: growth.logistic_age_at_fraction(a, b, c),
        lambda: growth.logistic_predict_a_kg(a, b, c, d),
        lambda: growth.lms_z(a, b, c, d),
        lambda: growth.lms_x(a, b, c, d),
        lambda: growth.lines_crossed(a, b),
        lambda: growth.adult_weight_from_one_weighing(a, b, "medium").high_kg,
        lambda: growth.adult_weight_from_parents(a, b, "female").high_kg,
    ):
        try:
            result = function()
        except ValueError:
            continue
        assert math.isfinite(result)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(any_float, any_float), min_size=0, max_size=9))
def test_a_fit_of_anything_gives_finite_numbers_or_refuses(points: list[tuple[float, float]]) -> None:
    for fit in (growth.fit_gompertz, growth.fit_logistic):
        try:
            found = fit(points)
        except ValueError:
            continue
        assert math.isfinite(found.wmax_kg)
        assert math.isfinite(found.rmse_kg)


@given(
    st.floats(min_value=0, max_value=600),
    st.floats(min_value=0.1, max_value=50),
    st.floats(min_value=20, max_value=120),
    st.floats(min_value=40, max_value=250),
)
def test_both_curves_never_fall_with_age(age: float, step: float, b: float, c: float) -> None:
    for curve in (growth.gompertz_kg, growth.logistic_kg):
        assert curve(age + step, 30.0, b, c) >= curve(age, 30.0, b, c)
