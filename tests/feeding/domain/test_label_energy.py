"""Label energy against figures worked by hand from the published equations."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.label_energy import (
    LabelAnalysis,
    atwater,
    energy_of_food,
    four_step,
    four_step_energy,
    nitrogen_free_extract_pct,
)

DRY = LabelAnalysis(26, 15, 3, 10, 7)
WET = LabelAnalysis(9.5, 6, 0.8, 77, 2.2)
PERCENT = st.floats(min_value=0, max_value=25)


def test_the_rest_of_a_decimal_label_is_exact() -> None:
    assert nitrogen_free_extract_pct(WET) == 4.5
    assert nitrogen_free_extract_pct(DRY) == 39


def test_both_ways_on_one_label_differ_as_published() -> None:
    # Atwater (AAFCO PF9) by hand: 10 (91 + 127.5 + 136.5); four steps (NRC 2006 p. 65): about 3718.
    assert atwater(DRY).energy_kcal_per_kg == 3550
    assert four_step_energy(DRY).energy_kcal_per_kg == pytest.approx(3718, rel=0.001)


def test_the_energy_in_kilojoules_is_that_of_an_independent_library() -> None:
    registry: pint.UnitRegistry = pint.UnitRegistry()
    per_kg = registry.Quantity(atwater(DRY).energy_kcal_per_kg, "kilocalorie / kilogram")
    # 3.5 and 8.5 kcal/g are 14.6 and 35.6 kJ/g, the usual metric form of the factors (from memory).
    by_kilojoules = registry.Quantity(10 * (14.644 * 26 + 35.564 * 15 + 14.644 * 39), "kilojoule / kilogram")
    assert per_kg.to("kilojoule / kilogram").magnitude == pytest.approx(by_kilojoules.magnitude, rel=1e-4)


@pytest.mark.parametrize(("moisture", "ash"), [(77, 2.5), (60, 2.5), (59, 7.5), (8, 7.5)])
def test_missing_ash_is_assumed_and_the_answer_marked_estimated(moisture: float, ash: float) -> None:
    # 2.5 % wet, 7-8 % dry: common practice, no source.
    answer = atwater(LabelAnalysis(8, 5, 1, moisture))
    assert answer.is_estimated
    assert f"{ash:g} % assumed" in answer.assumptions[0]
    assert answer.energy_kcal_per_kg == atwater(LabelAnalysis(8, 5, 1, moisture, ash)).energy_kcal_per_kg


def test_the_printed_energy_goes_before_the_analysis() -> None:
    answer = energy_of_food(DRY, 3812)
    assert (answer.energy_kcal_per_kg, answer.method, answer.is_estimated) == (3812, "printed", False)
    assert energy_of_food(DRY, method="atwater").energy_kcal_per_kg == 3550
    assert energy_of_food(DRY).method == "four_step"


def test_much_fibre_is_cautioned_about() -> None:
    assert any("More fibre" in text for text in atwater(LabelAnalysis(22, 9, 9, 9, 6.5)).cautions)
    assert not any("More fibre" in text for text in atwater(LabelAnalysis(22, 9, 8, 9, 6.5)).cautions)


@pytest.mark.parametrize(
    "analysis",
    [
        LabelAnalysis(-1, 15, 3, 10, 7),
        LabelAnalysis(26, 15, 3, 101, 7),
        LabelAnalysis(50, 30, 3, 10, 8),
        LabelAnalysis(0, 0, 0, 100, 0),
        LabelAnalysis(10, 2, 70, 10, 5),
        LabelAnalysis(float("nan"), 15, 3, 10, 7),
    ],
)
def test_impossible_labels_are_refused(analysis: LabelAnalysis) -> None:
    with pytest.raises(ValueError):
        four_step(analysis)


def test_a_food_without_energy_and_analysis_and_an_unknown_way_are_refused() -> None:
    with pytest.raises(ValueError, match="needs a printed energy or an analysis"):
        energy_of_food(None)
    with pytest.raises(ValueError, match="unknown way"):
        energy_of_food(DRY, method="guess")
    with pytest.raises(ValueError):
        energy_of_food(None, 38)


@given(
    protein=PERCENT,
    fat=PERCENT,
    fibre=st.floats(min_value=0, max_value=8),
    ash=st.floats(0, 10),
    more=PERCENT,
)
def test_more_fat_in_place_of_the_rest_never_lowers_the_energy(
    protein: float, fat: float, fibre: float, ash: float, more: float
) -> None:
    leaner = LabelAnalysis(protein, fat, fibre, 10, ash)
    room = nitrogen_free_extract_pct(leaner)
    richer = LabelAnalysis(protein, fat + min(more, room * 0.99), fibre, 10, ash)
    assert atwater(richer).energy_kcal_per_kg >= atwater(leaner).energy_kcal_per_kg - 1e-6
    steps = four_step(leaner), four_step(richer)
    assert steps[1].metabolisable_energy_kcal_per_kg >= steps[0].metabolisable_energy_kcal_per_kg - 1e-6


@given(parts=st.lists(st.floats(), min_size=5, max_size=5))
def test_any_label_gives_a_finite_energy_or_is_refused(parts: list[float]) -> None:
    for reckon in (atwater, four_step_energy):
        try:
            answer = reckon(LabelAnalysis(*parts))
        except ValueError:
            continue
        assert math.isfinite(answer.energy_kcal_per_kg)
        assert answer.energy_kcal_per_kg > 0
