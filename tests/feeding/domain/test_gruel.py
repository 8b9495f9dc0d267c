"""Soaks and leftovers: mass is kept, energy is the dry food's, volume is not weight."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.gruel import (
    DENSITY_ASSUMED,
    SoakRatio,
    eaten,
    mix_by_volume,
    mix_by_weight,
    soak_moisture_pct,
    water_for_dry_ml,
    water_range_ml,
)

GRAMS = st.floats(min_value=1, max_value=5000)
WATER = st.floats(min_value=0, max_value=5000)


def test_equal_volumes_are_about_one_to_two_and_a_half_by_weight() -> None:
    # Dry food at 0.40 g/mL: common practice, no source.
    assert water_for_dry_ml(40, SoakRatio(1, 1)) == 100
    assert water_range_ml(40, SoakRatio(1, 1)) == pytest.approx((40 / 0.45, 40 / 0.35))
    assert water_range_ml(40, SoakRatio(1, 1), 0.5) == (80, 80)


def test_a_mix_by_volume_and_the_same_mix_by_weight_are_one() -> None:
    by_volume = mix_by_volume(100, SoakRatio(1, 1), 3800, 8)
    by_weight = mix_by_weight(40, 100, 3800, 8)
    assert by_volume.mass_g == by_weight.mass_g == 140
    assert by_volume.energy_kcal == by_weight.energy_kcal == 152
    assert by_volume.moisture_pct == by_weight.moisture_pct == pytest.approx(73.71, rel=0.001)
    assert by_volume.assumptions == (DENSITY_ASSUMED,)
    assert mix_by_volume(100, SoakRatio(1, 1), 3800, 8, 0.4).assumptions == ()


def test_a_recipe_in_ounces_weighs_the_same_in_an_independent_library() -> None:
    registry: pint.UnitRegistry = pint.UnitRegistry()
    dry_g = registry.Quantity(2, "ounce").to("gram").magnitude
    water_ml = registry.Quantity(5, "ounce").to("gram").magnitude
    mix = mix_by_weight(dry_g, water_ml, 3800, 8)
    assert mix.mass_g == pytest.approx(registry.Quantity(7, "ounce").to("gram").magnitude)


@given(dry_g=GRAMS, water_ml=WATER, more=st.floats(min_value=0, max_value=1000))
def test_water_thins_a_soak_and_never_changes_its_energy(dry_g: float, water_ml: float, more: float) -> None:
    mix, thinner = mix_by_weight(dry_g, water_ml, 3700, 9), mix_by_weight(dry_g, water_ml + more, 3700, 9)
    assert thinner.energy_kcal == mix.energy_kcal
    assert thinner.moisture_pct >= mix.moisture_pct - 1e-9
    assert thinner.energy_kcal_per_g <= mix.energy_kcal_per_g
    assert 9 - 1e-9 <= mix.moisture_pct < 100


@given(dry_g=GRAMS, water_ml=WATER, share=st.floats(min_value=0, max_value=1))
def test_what_was_eaten_and_what_was_left_make_up_what_was_offered(
    dry_g: float, water_ml: float, share: float
) -> None:
    mix = mix_by_weight(dry_g, water_ml, 3700, 9)
    left_g = mix.mass_g * share
    was_eaten = eaten(dry_g, mix.mass_g, left_g, 3700)
    left_dry_g = dry_g * left_g / mix.mass_g
    assert was_eaten.dry_g + left_dry_g == pytest.approx(dry_g)
    assert was_eaten.energy_kcal == pytest.approx(was_eaten.dry_g * 3.7)
    assert 0 <= was_eaten.share <= 1


def test_leftovers_are_weighed_wet_and_reckoned_dry() -> None:
    # 40 g of dry food in a mix of 140 g, 35 g come back: a quarter, so 30 g of dry food were eaten.
    assert eaten(40, 140, 35, 3800).dry_g == pytest.approx(30)
    assert eaten(40, 140, 0, 3800).energy_kcal == pytest.approx(152)


@pytest.mark.parametrize(
    ("dry", "mix", "left"), [(40, 140, 141), (150, 140, 0), (40, 0, 0), (-1, 140, 0), (40, 140, -1)]
)
def test_more_left_than_offered_is_refused(dry: float, mix: float, left: float) -> None:
    with pytest.raises(ValueError):
        eaten(dry, mix, left, 3800)


@pytest.mark.parametrize(
    ("food", "water"), [(0, 1), (-1, 1), (1, -1), (1, 101), (float("nan"), 1), (1e-5, 1)]
)
def test_an_impossible_ratio_is_refused(food: float, water: float) -> None:
    with pytest.raises(ValueError):
        SoakRatio(food, water)


def test_a_ratio_reads_as_it_is_spoken() -> None:
    assert str(SoakRatio(1, 2.5)) == "1:2.5"


@given(numbers=st.lists(st.floats(), min_size=4, max_size=4))
def test_any_floats_give_finite_amounts_or_are_refused(numbers: list[float]) -> None:
    first, second, third, fourth = numbers
    for reckon in [
        lambda: soak_moisture_pct(first, second, third),
        lambda: mix_by_weight(first, second, third, fourth).energy_kcal_per_g,
        lambda: mix_by_volume(first, SoakRatio(second, third), 3700, 9, fourth).mass_g,
        lambda: water_for_dry_ml(first, SoakRatio(second, third), fourth),
        lambda: eaten(first, second, third, fourth).energy_kcal,
    ]:
        try:
            value = reckon()
        except ValueError:
            continue
        assert math.isfinite(value)
        assert value >= 0
