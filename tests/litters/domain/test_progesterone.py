"""Progesterone: units, landmarks and the reading of one series."""

import math
from datetime import date, timedelta

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.gestation import (
    ProgesteroneTest,
    ProgesteroneUnit,
    in_ng_per_ml,
    ng_per_ml_from_nmol_per_l,
    nmol_per_l_from_ng_per_ml,
    progesterone_stage,
    read_series,
    research_rise_on,
)

NG, NMOL = ProgesteroneUnit.NG_PER_ML, ProgesteroneUnit.NMOL_PER_L
FIRST = date(2026, 2, 20)


def series(
    *values: tuple[int, float], unit: ProgesteroneUnit = NG, analyser: str = ""
) -> list[ProgesteroneTest]:
    return [
        ProgesteroneTest(
            FIRST + timedelta(days=day), value, unit, analyser, ref=f"{analyser}{unit.value}{day}"
        )
        for day, value in values
    ]


def test_pint_and_the_molar_mass_of_progesterone_give_the_same_conversion() -> None:
    # Independent library (pint) and the molar mass 314.46 g/mol.
    registry: pint.UnitRegistry = pint.UnitRegistry()
    for value in (0.5, 2.0, 6.0, 25.0):
        amount = registry.Quantity(value, "ng/mL") / registry.Quantity(314.46, "g/mol")
        assert nmol_per_l_from_ng_per_ml(value) == pytest.approx(amount.to("nmol/L").magnitude, rel=1e-3)


@given(st.floats(min_value=0, max_value=200))
def test_units_survive_the_round_trip(value: float) -> None:
    assert ng_per_ml_from_nmol_per_l(nmol_per_l_from_ng_per_ml(value)) == pytest.approx(value, abs=1e-12)


@given(st.floats())
def test_any_number_is_converted_to_a_finite_one_or_refused(value: float) -> None:
    for convert in (nmol_per_l_from_ng_per_ml, ng_per_ml_from_nmol_per_l):
        try:
            result = convert(value)
        except ValueError:
            assert not math.isfinite(value) or value < 0 or value > 200
        else:
            assert math.isfinite(result)
            assert result >= 0


@given(st.floats(min_value=0, max_value=199), st.floats(min_value=0.001, max_value=1))
def test_more_in_one_unit_is_more_in_the_other(value: float, more: float) -> None:
    assert nmol_per_l_from_ng_per_ml(value + more) > nmol_per_l_from_ng_per_ml(value)


@pytest.mark.parametrize(
    ("value", "stage"),
    [
        (0.4, "before the LH surge"),
        (1.5, "rising, not yet clear"),
        (2.5, "about the LH surge"),
        (3.5, "between the LH surge and ovulation"),
        (6.0, "about ovulation"),
        (18.0, "after ovulation"),
    ],
)
def test_stages_follow_the_laboratory_leaflets(value: float, stage: str) -> None:
    # Leaflets quoted by clinics: under 1 before the surge, 2-3 at it, 4-10 at ovulation.
    assert progesterone_stage(value) == stage


def test_the_nmol_landmarks_are_the_ng_landmarks() -> None:
    # The same leaflets print 6.4-9.5 nmol/L for the surge and 13-32 for ovulation.
    assert 6.3 < nmol_per_l_from_ng_per_ml(2.0) < 6.5
    assert in_ng_per_ml(9.5, NMOL) == pytest.approx(3.0, abs=0.02)
    assert progesterone_stage(in_ng_per_ml(20.0, NMOL)) == "about ovulation"


def test_daily_samples_date_the_rise_to_the_first_sample_above_two() -> None:
    reading = read_series(series((0, 0.6), (1, 1.1), (2, 2.3), (3, 4.0), (4, 6.4)))
    assert reading.rise is not None
    assert reading.rise.reached_on == FIRST + timedelta(days=2)
    assert reading.rise.gap_variance == 0
    assert reading.ovulation is not None
    assert reading.ovulation.reached_on == FIRST + timedelta(days=4)


def test_both_units_date_the_same_days() -> None:
    values = ((0, 0.6), (2, 1.4), (4, 4.0), (6, 9.0))
    in_nmol = tuple((day, nmol_per_l_from_ng_per_ml(value)) for day, value in values)
    one, other = read_series(series(*values)), read_series(series(*in_nmol, unit=NMOL))
    assert (one.rise, one.ovulation) == (other.rise, other.ovulation)


def test_a_gap_between_samples_makes_the_day_less_certain() -> None:
    reading = read_series(series((0, 0.6), (4, 5.0)))
    assert reading.rise is not None
    assert reading.rise.gap_days == 4
    # Uniform over n whole days has variance (n^2 - 1) / 12 (textbook formula).
    assert reading.rise.gap_variance == pytest.approx(sum((day - 2.5) ** 2 for day in (1, 2, 3, 4)) / 4)
    assert FIRST < reading.rise.reached_on <= FIRST + timedelta(days=4)


def test_a_first_sample_above_the_line_dates_nothing() -> None:
    reading = read_series(series((0, 3.0), (1, 4.0)))
    assert reading.rise is None
    assert "already above 2" in reading.notes[0]


def test_a_long_gap_dates_nothing() -> None:
    reading = read_series(series((0, 0.5), (15, 12.0)))
    assert reading.rise is None
    assert reading.ovulation is None
    assert any("without a sample" in note for note in reading.notes)


def test_a_false_start_is_said_and_the_last_passage_counts() -> None:
    reading = read_series(series((0, 0.5), (1, 2.2), (2, 1.1), (3, 1.8), (4, 2.6)))
    assert reading.rise is not None
    assert reading.rise.reached_on == FIRST + timedelta(days=4)
    assert any("more than once" in note for note in reading.notes)


def test_exactly_two_is_not_above_two_but_six_is_reached_at_six() -> None:
    reading = read_series(series((0, 1.0), (1, 2.0), (2, 6.0)))
    assert reading.rise is not None
    assert reading.rise.reached_on == FIRST + timedelta(days=2)
    assert reading.ovulation is not None
    assert reading.ovulation.reached_on == FIRST + timedelta(days=2)


@pytest.mark.parametrize(
    ("other", "word"),
    [
        (series((2, 3.1), (3, 4.0), analyser="clinic"), "two analysers"),
        (series((2, 9.0), (3, 12.0), unit=NMOL), "two units"),
    ],
)
def test_two_analysers_or_units_are_never_one_trend(other: list[ProgesteroneTest], word: str) -> None:
    own = series((0, 0.5), (1, 1.2), (2, 2.4))
    reading = read_series([*own, *other])
    assert set(reading.used) == set(own)
    assert set(reading.set_aside) == set(other)
    assert word in reading.notes[-1]


def test_the_research_rise_needs_one_and_a_half_and_a_doubling() -> None:
    # Kutzler et al. 2003.
    assert research_rise_on(series((0, 0.8), (1, 1.4), (2, 2.9))) == FIRST + timedelta(days=2)
    assert research_rise_on(series((0, 1.4), (1, 1.6), (2, 1.9))) is None
    with pytest.raises(ValueError, match="one analyser"):
        research_rise_on([*series((0, 0.8)), *series((1, 2.0), analyser="clinic")])


@pytest.mark.parametrize("value", [-0.1, 201.0, math.nan, math.inf])
def test_an_impossible_sample_is_refused(value: float) -> None:
    with pytest.raises(ValueError):
        read_series(series((0, value)))


def test_an_empty_series_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one sample"):
        read_series([])
