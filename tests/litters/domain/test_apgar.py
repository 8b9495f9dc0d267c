"""The viability score: total, class and points."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.whelping import (
    ApgarScore,
    apgar_class,
    apgar_result,
    apgar_total,
    breathing_points,
    heart_rate_points,
)

POINTS = st.integers(min_value=0, max_value=2)
SCORES = st.builds(ApgarScore, POINTS, POINTS, POINTS, POINTS, POINTS)


@pytest.mark.parametrize(
    ("total", "expected"),
    [(0, "severe"), (3, "severe"), (4, "moderate"), (6, "moderate"), (7, "normal"), (10, "normal")],
)
def test_classes_are_those_of_veronesi(total: int, expected: str) -> None:
    # Veronesi et al. 2009: 0-3, 4-6, 7-10.
    assert apgar_class(total) == expected


def test_the_total_is_the_sum_of_the_five_signs() -> None:
    assert apgar_total(heart_rate=2, breathing=1, reflex=1, motility=2, colour=1) == 7
    assert apgar_total(heart_rate=0, breathing=1, reflex=0, motility=1, colour=1) == 3


@given(SCORES)
def test_a_result_keeps_the_components_and_names_its_source(score: ApgarScore) -> None:
    result = apgar_result(score)
    assert result.score == score
    assert result.total == score.total
    assert result.apgar_class == apgar_class(score.total)
    assert result.source
    assert result.caution


@given(score=SCORES, sign=st.sampled_from(["heart_rate", "breathing", "reflex", "motility", "colour"]))
def test_one_more_point_never_worsens_the_class(score: ApgarScore, sign: str) -> None:
    order = ["severe", "moderate", "normal"]
    points = {
        name: getattr(score, name) for name in ("heart_rate", "breathing", "reflex", "motility", "colour")
    }
    better = apgar_total(**{**points, sign: min(points[sign] + 1, 2)})
    assert order.index(apgar_class(better)) >= order.index(apgar_class(score.total))


@pytest.mark.parametrize("points", [-1, 3, 1.5, True, math.nan])
def test_points_other_than_0_1_or_2_are_refused(points: int) -> None:
    with pytest.raises(ValueError):
        ApgarScore(points, 1, 1, 1, 1)


@pytest.mark.parametrize("total", [-1, 11, 6.5, True])
def test_a_total_outside_0_to_10_is_refused(total: int) -> None:
    with pytest.raises(ValueError):
        apgar_class(total)


@pytest.mark.parametrize(("rate", "points"), [(0, 0), (179, 0), (180, 1), (220, 1), (221, 2)])
def test_heart_rates_become_points(rate: float, points: int) -> None:
    # Cut-offs from memory, unverified.
    assert heart_rate_points(rate) == points


@pytest.mark.parametrize(("rate", "points"), [(0, 0), (5, 0), (6, 1), (15, 1), (16, 2)])
def test_breathing_rates_become_points(rate: float, points: int) -> None:
    # Cut-offs from memory, unverified.
    assert breathing_points(rate) == points


@given(st.floats())
def test_any_rate_gives_points_or_is_refused(rate: float) -> None:
    for points_of in (heart_rate_points, breathing_points):
        try:
            points = points_of(rate)
        except ValueError:
            continue
        assert points in (0, 1, 2)
