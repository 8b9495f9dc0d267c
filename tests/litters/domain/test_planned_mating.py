"""The forecast of a mating: coefficient, level, what is known, and what is said."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from litters.domain.pedigree import Parentage, build_pedigree
from litters.domain.planned_mating import InbreedingLevel, forecasts_ranked, inbreeding_level, mating_forecast
from tests.litters.domain.test_pedigree import pedigrees

HALF_SIBS = [
    Parentage("Marram"),
    Parentage("Bramble"),
    Parentage("Sorrel"),
    Parentage("Teasel", "Marram", "Bramble"),
    Parentage("Reed", "Marram", "Sorrel"),
]


def test_half_siblings_are_amber_and_the_shared_sire_is_named() -> None:
    # Half siblings: F 0.125, a 0.25 (table credited to an animal-breeding text).
    forecast = mating_forecast(build_pedigree(HALF_SIBS), "Reed", "Teasel")
    assert (forecast.inbreeding, forecast.additive_relationship, forecast.kinship) == (0.125, 0.25, 0.125)
    assert forecast.level is InbreedingLevel.AMBER
    assert [one.animal for one in forecast.common_ancestors] == ["Marram"]
    assert any("half siblings" in caution for caution in forecast.cautions)
    assert any("Fewer than three generations" in caution for caution in forecast.cautions)
    assert "100 % in 2" in forecast.assumptions[0]


def test_parent_and_offspring_are_red() -> None:
    forecast = mating_forecast(build_pedigree(HALF_SIBS), "Marram", "Teasel")
    assert (forecast.inbreeding, forecast.level) == (0.25, InbreedingLevel.RED)
    assert any("full siblings" in caution for caution in forecast.cautions)


def test_unrelated_parents_raise_no_level_but_the_depth_is_still_said() -> None:
    forecast = mating_forecast(build_pedigree(HALF_SIBS), "Marram", "Bramble")
    assert (forecast.inbreeding, forecast.level, forecast.common_ancestors) == (0, InbreedingLevel.NONE, ())
    assert forecast.ancestry.complete_generations == 1
    assert any("a low F says little" in caution for caution in forecast.cautions)


def test_a_forecast_from_one_generation_knows_nothing_of_the_grandparents() -> None:
    forecast = mating_forecast(build_pedigree(HALF_SIBS), "Reed", "Teasel", generations=1)
    assert forecast.inbreeding == 0
    assert "at most 1" in forecast.assumptions[0]


@pytest.mark.parametrize(
    ("inbreeding", "level"),
    [(0, "none"), (0.1249, "none"), (0.125, "amber"), (0.2499, "amber"), (0.25, "red"), (1, "red")],
)
def test_the_lines_themselves_belong_to_the_higher_level(inbreeding: float, level: str) -> None:
    # Lines 0.125 and 0.25: common practice, no source.
    assert inbreeding_level(inbreeding) == level


@given(inbreeding=st.floats(), amber=st.floats(), red=st.floats())
def test_any_float_gives_a_level_or_is_refused(inbreeding: float, amber: float, red: float) -> None:
    is_sound = 0 <= inbreeding <= 1 and 0 <= amber <= red <= 1
    try:
        level = inbreeding_level(inbreeding, amber, red)
    except ValueError:
        assert not is_sound
    else:
        assert is_sound
        assert level in InbreedingLevel


@settings(deadline=None)
@given(records=pedigrees(), data=st.data())
def test_more_generations_never_lower_the_forecast(records: list[Parentage], data: st.DataObject) -> None:
    pedigree = build_pedigree(records)
    if len(pedigree.animals) < 2:
        return
    sire, dam = data.draw(st.permutations(pedigree.animals))[:2]
    depths: list[int | None] = [1, 2, 3, 5, None]
    found = [mating_forecast(pedigree, sire, dam, generations=depth).inbreeding for depth in depths]
    assert found == sorted(found)


def test_possible_sires_are_ranked_by_the_coefficient_of_their_pups() -> None:
    records = [*HALF_SIBS, Parentage("Moss")]
    ranked = forecasts_ranked(build_pedigree(records), "Teasel", ["Marram", "Reed", "Moss"])
    assert ranked == [("Moss", 0), ("Reed", 0.125), ("Marram", 0.25)]
