"""Scores, centiles and the lines crossed, against scipy and the published rules."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from litters.domain import growth
from litters.domain.centiles import centile_lines, centile_of, centile_path, centile_words

any_float = st.floats(allow_nan=True, allow_infinity=True)


# Cole & Green 1992, Stat Med 11:1305-1319 (from memory): for L = 1 the score is that of a normal distribution
# with SD S M, for L = 0 that of a log-normal one; both from scipy.stats.
@given(st.floats(min_value=5, max_value=20), st.floats(min_value=0.05, max_value=0.3))
def test_scores_agree_with_normal_and_log_normal_distributions(weight: float, spread: float) -> None:
    normal = stats.norm.ppf(stats.norm.cdf(weight, loc=11, scale=spread * 11), loc=0, scale=1)
    if abs(normal) < 5:
        assert growth.lms_z(weight, 1.0, 11.0, spread) == pytest.approx(normal, abs=1e-6)
    log_normal = stats.norm.ppf(stats.lognorm.cdf(weight, s=spread, scale=11))
    if abs(log_normal) < 5:
        assert growth.lms_z(weight, 0.0, 11.0, spread) == pytest.approx(log_normal, abs=1e-6)


@given(
    st.floats(min_value=-3, max_value=3),
    st.floats(min_value=-2, max_value=2),
    st.floats(min_value=0.5, max_value=60),
    st.floats(min_value=0.02, max_value=0.15),
)
def test_score_and_weight_are_inverse_also_for_a_power_next_to_nothing(
    z: float, power: float, median: float, spread: float
) -> None:
    for one_power in (power, power * 1e-9):
        weight = growth.lms_x(z, one_power, median, spread)
        assert growth.lms_z(weight, one_power, median, spread) == pytest.approx(z, abs=1e-7)


def test_a_power_near_zero_joins_the_logarithmic_branch() -> None:
    assert growth.lms_z(9.2, 1e-12, 11.0, 0.12) == pytest.approx(growth.lms_z(9.2, 0.0, 11.0, 0.12))


# Salt et al. 2020, PLoS ONE 15(9):e0238521: more than two lines; nine lines, Salt et al. 2017.
def test_more_than_two_lines_crossed_is_too_many_in_either_direction() -> None:
    assert len(centile_lines()) == 9
    assert growth.lines_crossed(0.1, -1.5) == growth.lines_crossed(-1.5, 0.1) == 3
    assert growth.crosses_too_many_lines(0.1, -1.5)
    assert not growth.crosses_too_many_lines(0.1, -1.0)


def test_a_score_on_a_line_has_not_crossed_it() -> None:
    assert growth.lines_crossed(0.0, 0.67) == 0
    assert growth.lines_crossed(-0.001, 0.671) == 2


def _table() -> growth.LmsTable:
    return growth.LmsTable(
        "vet's table", (growth.LmsRow(84, 0.5, 6.0, 0.12), growth.LmsRow(168, 0.3, 14.0, 0.10))
    )


def test_a_table_is_read_straight_between_its_rows_and_not_outside() -> None:
    row = _table().row_at(126)
    assert (row.age_days, row.power, row.median_kg, row.spread) == pytest.approx((126, 0.4, 10.0, 0.11))
    assert _table().z(168, 14.0) == 0
    for age in (83, 169, math.nan):
        with pytest.raises(ValueError):
            _table().z(age, 8.0)


# Salt et al. 2017, PLoS ONE 12(9):e0182064: the standard begins at 12 weeks.
def test_a_table_for_ages_no_standard_covers_is_refused() -> None:
    with pytest.raises(ValueError):
        growth.LmsTable("too early", (growth.LmsRow(70, 0.5, 5.0, 0.12), growth.LmsRow(168, 0.3, 14.0, 0.10)))


# The sheet's lines (from memory): -2.67, -2, -1.33, -0.67, 0 and their mirror, the 0.4th to the 99.6th centile.
def test_lines_are_those_of_the_published_charts_unless_the_vet_reads_others() -> None:
    assert centile_lines() == (-2.67, -2.0, -1.33, -0.67, 0.0, 0.67, 1.33, 2.0, 2.67)
    named = (0.4, 2, 9, 25, 50, 75, 91, 98, 99.6)
    assert [centile_of(z) for z in centile_lines()] == pytest.approx(named, abs=0.3)
    assert centile_lines(1.0) == (-2.0, -1.0, 0.0, 1.0, 2.0)
    assert growth.lines_crossed(0.1, -1.5, 1.0) == 2
    with pytest.raises(ValueError):
        centile_lines(0.05)


# Independent library: scipy.stats.norm.
@given(st.floats(min_value=-6, max_value=6))
def test_a_centile_is_the_normal_distribution_at_the_score(z: float) -> None:
    assert centile_of(z) == pytest.approx(100 * stats.norm.cdf(z), abs=1e-9)


@pytest.mark.parametrize(
    ("centile", "said"),
    [
        (0.02, "lowest"),
        (0.38, "0.4th"),
        (0.96, "1st"),
        (2.3, "2nd"),
        (3.0, "3rd"),
        (11.6, "12th"),
        (33.5, "34th"),
        (91.0, "91st"),
        (99.2, "99.2th"),
        (99.95, "highest"),
    ],
)
def test_centiles_are_said_as_people_say_them(centile: float, said: str) -> None:
    assert centile_words(centile) == said


def _weights(*scores: tuple[float, float]) -> list[tuple[float, float]]:
    """Weights (age, kg) that stand at these (age, score) in the table, by the inverse of the score."""
    found = []
    for age, z in scores:
        row = _table().row_at(age)
        found.append((age, growth.lms_x(z, row.power, row.median_kg, row.spread)))
    return found


def test_the_way_through_a_table_counts_from_the_first_weighing_it_covers() -> None:
    early = [(40.0, 2.0), (83.9, 5.5)]
    path = centile_path(_table(), [*early, *_weights((90, 0.1), (120, -0.8), (150, -1.5))])
    assert path is not None
    assert (path.first.age_days, path.newest.age_days) == (90, 150)
    assert (path.first.z, path.newest.z) == pytest.approx((0.1, -1.5))
    assert (path.lines_crossed, path.direction, path.is_too_many) == (3, "down", True)
    assert path.words == (
        "On the 7th centile at day 150; 3 centile lines crossed downwards since day 90 (54th centile)."
    )
    assert centile_path(_table(), early) is None


def test_two_lines_are_not_too_many_and_climbing_counts_as_falling_does() -> None:
    two = centile_path(_table(), _weights((90, 0.1), (150, -1.0)))
    assert two is not None
    assert (two.lines_crossed, two.is_too_many) == (2, False)
    up = centile_path(_table(), _weights((90, -1.5), (150, 0.1)))
    assert up is not None
    assert (up.direction, up.is_too_many) == ("up", True)
    assert centile_path(_table(), _weights((90, -1.5), (150, 0.1)), most=3).is_too_many is False
    alone = centile_path(_table(), _weights((90, 0.3)))
    assert alone is not None
    assert (alone.words, alone.direction) == ("On the 62nd centile at day 90.", "level")
    level = centile_path(_table(), _weights((90, 0.3), (97, 0.4)))
    assert level is not None
    assert "no centile line crossed since day 90" in level.words


def test_rows_that_look_mistyped_are_asked_about_and_never_refused() -> None:
    rows = ((84, 6.0), (91, 6.5), (98, 70.0), (105, 7.4), (168, 14.0))
    asked = growth.LmsTable("t", tuple(growth.LmsRow(day, 0.5, kg, 0.1) for day, kg in rows)).questions()
    assert len(asked) == 2
    assert "6.5 kg on day 91 to 70 kg on day 98" in asked[0]
    assert "70 kg on day 98 to 7.4 kg on day 105" in asked[1]
    assert _table().questions() == ()


@given(any_float, any_float, any_float, any_float)
def test_every_score_gives_a_finite_number_or_refuses(a: float, b: float, c: float, d: float) -> None:
    for function in (
        lambda: centile_of(a),
        lambda: centile_lines(max(a, 0.01))[0],
        lambda: growth.lines_crossed(a, b, 0.5),
        lambda: _table().z(a, b),
    ):
        try:
            result = function()
        except ValueError:
            continue
        assert math.isfinite(result)
