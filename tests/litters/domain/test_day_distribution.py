"""The numerics beneath the due window, against scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from litters.domain.day_distribution import (
    Bell,
    bell_from_range,
    day_masses,
    grid_between,
    likeliest_day,
    normalised,
    product,
    quantile_day,
    scaled,
    sd_of_days,
    widened,
)

WIDTH = st.floats(min_value=0.3, max_value=8)
SHARE = st.floats(min_value=0.02, max_value=0.98)


@given(sd=WIDTH, share=SHARE)
def test_a_bell_with_equal_sides_is_the_normal_curve_of_scipy(sd: float, share: float) -> None:
    bell = Bell(10, sd, sd)
    assert bell.density(11.3) == pytest.approx(norm(10, sd).pdf(11.3))
    assert bell.quantile(share) == pytest.approx(norm(10, sd).ppf(share), abs=1e-9)
    assert bell.sd() == pytest.approx(sd)


@given(below=WIDTH, above=WIDTH, share=SHARE)
def test_the_quantile_of_a_lopsided_bell_leaves_its_share_below_it(
    below: float, above: float, share: float
) -> None:
    bell = Bell(0, below, above)
    low = -12 * below
    mass, _ = quad(bell.density, low, bell.quantile(share), points=[0.0], limit=200)
    assert mass == pytest.approx(share, abs=1e-6)


def test_the_spread_of_a_lopsided_bell_is_that_of_its_integral() -> None:
    bell = Bell(0, 2.0, 5.0)
    mean, _ = quad(lambda at: at * bell.density(at), -30, 60, points=[0.0])
    variance, _ = quad(lambda at: (at - mean) ** 2 * bell.density(at), -30, 60, points=[0.0])
    assert bell.sd() == pytest.approx(math.sqrt(variance), rel=1e-6)


def test_a_published_range_becomes_a_bell_with_that_range() -> None:
    bell = bell_from_range(58, 63, 72, 0.90)
    assert bell.quantile(0.05) == pytest.approx(58, abs=1e-6)
    assert bell.quantile(0.95) == pytest.approx(72, abs=1e-6)
    assert max(range(50, 80), key=bell.density) == 63


@pytest.mark.parametrize(
    "arguments", [(63, 58, 72, 0.9), (58, 63, 63, 0.9), (58, 63, 72, 1.0), (58, 63, math.inf, 0.9)]
)
def test_a_range_out_of_order_is_refused(arguments: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError):
        bell_from_range(*arguments)


@given(first=st.floats(min_value=-2, max_value=2), one=WIDTH, other=WIDTH)
def test_two_normal_pieces_combine_as_the_textbook_says(first: float, one: float, other: float) -> None:
    # Product of two normal likelihoods: precisions add, the mean is their weighted mean (textbook, Bayes).
    grid = grid_between(-60, 60)
    values = product(
        [
            [Bell(first, one, one).density(at) for at in grid],
            [Bell(0, other, other).density(at) for at in grid],
        ]
    )
    precision = one**-2 + other**-2
    mean = sum(at * value for at, value in zip(grid, values, strict=True))
    variance = sum((at - mean) ** 2 * value for at, value in zip(grid, values, strict=True))
    assert mean == pytest.approx(first * one**-2 / precision, abs=0.01)
    assert math.sqrt(variance) == pytest.approx(precision**-0.5, abs=0.01)


@given(sd=st.floats(min_value=0.4, max_value=3), more=st.floats(min_value=0.3, max_value=3))
def test_an_added_error_adds_its_variance(sd: float, more: float) -> None:
    grid = grid_between(-40, 40)
    values = widened(scaled([Bell(0, sd, sd).density(at) for at in grid]), more)
    variance = sum(at**2 * value for at, value in zip(grid, values, strict=True))
    assert variance == pytest.approx(sd**2 + more**2, rel=0.02)


def test_day_masses_are_the_areas_scipy_gives_each_day() -> None:
    # A point at 100.2 with a spread of 1.5 d: each whole day holds the normal area half a day either side.
    masses = day_masses([100.2], [1.0], 1.5)
    spread = norm(100.2, 1.5)
    for day in range(96, 105):
        assert masses[day] == pytest.approx(spread.cdf(day + 0.5) - spread.cdf(day - 0.5), abs=1e-6)
    assert sum(masses.values()) == pytest.approx(1)
    assert sd_of_days(masses) == pytest.approx(math.sqrt(1.5**2 + 1 / 12), rel=0.01)


def test_quantile_and_likeliest_day_of_a_small_table() -> None:
    masses = normalised({3: 1.0, 1: 1.0, 2: 2.0})
    assert list(masses) == [1, 2, 3]
    assert quantile_day(masses, 0.05) == 1
    assert quantile_day(masses, 0.25) == 1
    assert quantile_day(masses, 0.26) == 2
    assert quantile_day(masses, 0.95) == 3
    assert likeliest_day(masses) == 2
    assert likeliest_day({5: 0.5, 4: 0.5}) == 4


def test_contradicting_pieces_leave_both_answers_once_each_may_be_wrong() -> None:
    grid = grid_between(0, 40)
    left, right = ([Bell(peak, 0.5, 0.5).density(at) for at in grid] for peak in (10, 30))
    values = product([scaled(left), scaled(right)], slip_share=0.05)
    near = [
        sum(value for at, value in zip(grid, values, strict=True) if abs(at - peak) < 2) for peak in (10, 30)
    ]
    assert near[0] == pytest.approx(near[1], rel=1e-3)
    assert sum(near) > 0.9


def test_evidence_that_leaves_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no possible day"):
        scaled([0.0, 0.0])
