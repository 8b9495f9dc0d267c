"""The ration of a litter: needs, shares, soak, bowls, and what is said about weights."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.foods import Food
from feeding.domain.leftovers import MealOutcome
from feeding.domain.plan import LitterRation, Portion, portion, ration_for_litter, soak_for
from feeding.domain.pup_needs import MissingWeight, PupMethod, PupToFeed
from feeding.domain.stages import Stage, default_stages, stage_on

AT = datetime(2026, 5, 1, 8, tzinfo=UTC)
DRY = Food("puppy food", 3800, "printed by the maker")
WET = Food("canned puppy food", 1050, "printed by the maker", is_dry=False)


def _stage(age_days: int) -> Stage:
    stage = stage_on(default_stages(), age_days)
    assert stage is not None
    return stage


def _litter(*weights_g: float | None, age_days: int = 35, adult_kg: float | None = 19.0) -> list[PupToFeed]:
    names = ("Moss", "Fern", "Reed", "Rush", "Heath", "Tansy")
    weighed_at = AT - timedelta(hours=10)
    return [
        PupToFeed(name, age_days, weight_g, None if weight_g is None else weighed_at, adult_kg)
        for name, weight_g in zip(names, weights_g, strict=False)
    ]


def _per_meal(ration: LitterRation) -> Portion:
    assert ration.per_meal is not None
    return ration.per_meal


def test_a_meal_can_be_followed_by_hand() -> None:
    # Two pups of 2 kg, 25 kcal/100 g (NRC 2006): 1000 kcal; half from food, three meals, 3.8 kcal/g, 1:1.
    ration = ration_for_litter(_litter(2000, 2000), DRY, _stage(35), PupMethod.NEWBORN, AT)
    meal = _per_meal(ration)
    assert ration.need_kcal_per_day == 1000
    assert meal.energy_kcal == pytest.approx(1000 / 2 / 3)
    assert meal.food_g == pytest.approx(1000 / 2 / 3 / 3.8)
    assert meal.water_ml == pytest.approx(meal.food_g / 0.4)
    assert meal.mix_g == pytest.approx(meal.food_g * 3.5)
    assert (meal.water_low_ml, meal.water_high_ml) == pytest.approx((meal.food_g / 0.45, meal.food_g / 0.35))


@pytest.mark.parametrize("method", list(PupMethod))
def test_pups_days_meals_and_bowls_add_up(method: PupMethod) -> None:
    ration = ration_for_litter(_litter(1800, 2100, 2500), DRY, _stage(42), method, AT, bowls=2)
    meal = _per_meal(ration)
    assert ration.per_day is not None
    assert ration.per_bowl is not None
    assert sum(pup.per_meal.food_g for pup in ration.pups) == pytest.approx(meal.food_g)
    assert sum(pup.per_meal.water_ml for pup in ration.pups) == pytest.approx(meal.water_ml)
    assert meal.food_g * ration.meals_per_day == pytest.approx(ration.per_day.food_g)
    assert ration.per_bowl.mix_g * 2 == pytest.approx(meal.mix_g)
    assert ration.per_day.food_g * 3.8 == pytest.approx(ration.need_kcal_per_day * 0.75)


def test_the_other_methods_stand_beside_the_chosen_one() -> None:
    # 5 kg pup, 30 kg adult: NRC 1064, Klein 774, FEDIAF step 702 kcal, from the published formulae.
    litter = _litter(5000, age_days=70, adult_kg=30)
    ration = ration_for_litter(litter, DRY, _stage(70), PupMethod.GROWTH_KLEIN, AT)
    others = {name: round(kcal) for name, kcal in ration.other_methods_kcal_per_day.items()}
    assert round(ration.need_kcal_per_day) == 774
    assert others == {"growth_nrc": 1064, "growth_fediaf_step": 702, "newborn": 1250}


def test_a_pup_without_a_weight_is_left_out_and_named() -> None:
    ration = ration_for_litter(_litter(2000, None), DRY, _stage(35), PupMethod.NEWBORN, AT)
    assert [pup.name for pup in ration.pups] == ["Moss"]
    assert [(one.name, one.reason) for one in ration.left_out] == [("Fern", "no weight")]
    assert ration.cautions[0] == "Fern is left out of the amounts: no weight."
    assert ration.need_kcal_per_day == 500


def test_the_litters_mean_stands_in_only_when_asked_for_and_is_said() -> None:
    ration = ration_for_litter(
        _litter(2000, 3000, None),
        DRY,
        _stage(35),
        PupMethod.NEWBORN,
        AT,
        missing=MissingWeight.LITTERMATES_MEAN,
    )
    reed = ration.pups[2]
    assert (reed.weight_g, reed.weight_is_assumed, reed.weight_age_days) == (2500, True, None)
    assert "Reed was not weighed: 2500 g" in ration.cautions[0]
    assert ration.left_out == ()


def test_a_litter_nobody_weighed_gets_no_amounts() -> None:
    for missing in MissingWeight:
        ration = ration_for_litter(
            _litter(None, None), DRY, _stage(35), PupMethod.NEWBORN, AT, missing=missing
        )
        assert (ration.per_day, ration.per_meal, ration.per_bowl) == (None, None, None)
        assert len(ration.left_out) == 2


def test_an_old_weight_is_used_and_its_age_said() -> None:
    old = replace(_litter(2000)[0], weighed_at=AT - timedelta(days=4, hours=12))
    ration = ration_for_litter([old], DRY, _stage(35), PupMethod.NEWBORN, AT)
    assert ration.pups[0].weight_is_stale
    assert ration.cautions[0] == "The weight of Moss is 4.5 days old: weigh again."
    assert ration.inputs[0] == "Moss 2000 g, 4.5 days old"
    patient = ration_for_litter([old], DRY, _stage(35), PupMethod.NEWBORN, AT, stale_after_days=7)
    assert not patient.pups[0].weight_is_stale


def test_a_weight_without_an_instant_counts_as_old() -> None:
    unknown = replace(_litter(2000)[0], weighed_at=None)
    ration = ration_for_litter([unknown], DRY, _stage(35), PupMethod.NEWBORN, AT)
    assert ration.pups[0].weight_is_stale
    assert ration.cautions[0] == "Nobody knows when Moss was weighed: weigh again."


@pytest.mark.parametrize(
    "method", [PupMethod.GROWTH_NRC, PupMethod.GROWTH_KLEIN, PupMethod.GROWTH_FEDIAF_STEP]
)
def test_growth_methods_leave_out_a_pup_without_an_expected_adult_weight(method: PupMethod) -> None:
    ration = ration_for_litter(_litter(2000, adult_kg=None), DRY, _stage(35), method, AT)
    assert ration.pups == ()
    assert "no expected adult weight" in ration.left_out[0].reason


def test_a_pup_above_its_expected_adult_weight_is_left_out_with_the_reason() -> None:
    ration = ration_for_litter(_litter(2000, 5000, adult_kg=4), DRY, _stage(35), PupMethod.GROWTH_NRC, AT)
    assert [pup.name for pup in ration.pups] == ["Moss"]
    assert "above the expected adult mass" in ration.left_out[0].reason


def test_leftovers_lower_the_next_bowl_and_that_is_said() -> None:
    meals = [MealOutcome(30, 30, 105, 52.5), MealOutcome(30, 30, 105, 52.5)]
    plain = ration_for_litter(_litter(2000), DRY, _stage(35), PupMethod.NEWBORN, AT)
    lowered = ration_for_litter(_litter(2000), DRY, _stage(35), PupMethod.NEWBORN, AT, meals=meals)
    assert _per_meal(lowered).food_g == pytest.approx(_per_meal(plain).food_g * 0.55)
    assert any("Corrected to 55%" in text for text in lowered.assumptions)
    assert lowered.need_kcal_per_day == plain.need_kcal_per_day


def test_weaned_pups_that_leave_food_are_to_be_weighed() -> None:
    meals = [MealOutcome(30, 30, 105, 52.5)] * 2
    ration = ration_for_litter(
        _litter(4000, age_days=56), DRY, _stage(56), PupMethod.GROWTH_KLEIN, AT, meals=meals
    )
    assert any("Weaned pups eat less" in text for text in ration.cautions)


def test_growth_formulae_before_weaning_and_milk_need_after_it_are_said() -> None:
    early = ration_for_litter(_litter(2000, age_days=28), DRY, _stage(28), PupMethod.GROWTH_KLEIN, AT)
    late = ration_for_litter(_litter(4000, age_days=56), DRY, _stage(56), PupMethod.NEWBORN, AT)
    assert any("published for weaned pups and used before" in text for text in early.assumptions)
    assert any("meant for unweaned pups" in text for text in late.cautions)


def test_wet_food_takes_little_water_at_first_and_none_later() -> None:
    # Canned food 2:1 with water at first: owner handbook, as quoted.
    assert str(soak_for(WET, _stage(28))) == "2:1"
    assert soak_for(WET, _stage(42)) is None
    meal = _per_meal(ration_for_litter(_litter(2000), WET, _stage(35), PupMethod.NEWBORN, AT))
    assert meal.water_ml == pytest.approx(meal.food_g / 2)
    assert meal.water_low_ml == meal.water_high_ml == meal.water_ml


def test_a_measured_density_replaces_the_assumed_one() -> None:
    measured = replace(DRY, density_g_per_ml=0.45)
    assumed = ration_for_litter(_litter(2000), DRY, _stage(35), PupMethod.NEWBORN, AT)
    known = ration_for_litter(_litter(2000), measured, _stage(35), PupMethod.NEWBORN, AT)
    assert any("0.40 g/mL" in text for text in assumed.assumptions)
    assert not any("g/mL" in text for text in known.assumptions)
    assert _per_meal(known).water_ml == pytest.approx(_per_meal(assumed).water_low_ml)


def test_dry_meals_keep_one_softened_meal_until_sixteen_weeks() -> None:
    at_twelve = ration_for_litter(_litter(7000, age_days=84), DRY, _stage(84), PupMethod.GROWTH_KLEIN, AT)
    at_sixteen = ration_for_litter(_litter(9000, age_days=112), DRY, _stage(112), PupMethod.GROWTH_KLEIN, AT)
    meal = _per_meal(at_twelve)
    assert meal.water_ml == 0
    assert at_twelve.soaked_meal_water_ml == pytest.approx(meal.food_g / 0.4)
    assert at_sixteen.soaked_meal_water_ml is None


def test_the_bowl_shrinks_when_pups_leave() -> None:
    before = ration_for_litter(_litter(2000, 2000, 2000), DRY, _stage(49), PupMethod.GROWTH_KLEIN, AT)
    after = ration_for_litter(_litter(2000, 2000), DRY, _stage(49), PupMethod.GROWTH_KLEIN, AT)
    assert _per_meal(after).mix_g == pytest.approx(_per_meal(before).mix_g * 2 / 3)


@pytest.mark.parametrize("bowls", [0, 31])
def test_an_impossible_number_of_bowls_is_refused(bowls: int) -> None:
    with pytest.raises(ValueError, match="bowls"):
        ration_for_litter(_litter(2000), DRY, _stage(35), PupMethod.NEWBORN, AT, bowls=bowls)


def test_no_pup_and_two_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one pup"):
        ration_for_litter([], DRY, _stage(35), PupMethod.NEWBORN, AT)
    with pytest.raises(ValueError, match="one name"):
        ration_for_litter(_litter(2000) * 2, DRY, _stage(35), PupMethod.NEWBORN, AT)


@pytest.mark.parametrize(
    ("energy", "density"), [(99, None), (9501, None), (float("nan"), None), (3800, 0.09)]
)
def test_an_impossible_food_is_refused(energy: float, density: float | None) -> None:
    with pytest.raises(ValueError):
        Food("puppy food", energy, "typed", density_g_per_ml=density)


def test_every_ration_says_method_source_inputs_assumptions_and_cautions() -> None:
    ration = ration_for_litter(_litter(2000), DRY, _stage(35), PupMethod.GROWTH_NRC, AT)
    assert ration.method.startswith("growth_nrc")
    assert "NRC 2006" in ration.source
    assert "Small Animal Clinical Nutrition" in ration.source
    assert "puppy food: 3800 kcal/kg (printed by the maker)" in ration.inputs
    assert ration.assumptions
    assert any("fresh water" in text for text in ration.cautions)


@given(
    light=st.floats(min_value=200, max_value=18_999),
    heavy=st.floats(min_value=200, max_value=18_999),
    method=st.sampled_from([PupMethod.NEWBORN, PupMethod.GROWTH_KLEIN]),
    age_days=st.integers(min_value=28, max_value=300),
)
def test_a_heavier_young_pup_never_gets_a_smaller_bowl(
    light: float, heavy: float, method: PupMethod, age_days: int
) -> None:
    # Klein's formula rises up to 81 % of the adult weight: d/dp (254.1 - 135 p) p^0.75 = 0 at 0.807.
    light, heavy = sorted((min(light, 15_300), min(heavy, 15_300)))
    rations = [
        ration_for_litter(_litter(weight), DRY, _stage(age_days), method, AT) for weight in (light, heavy)
    ]
    assert _per_meal(rations[0]).food_g <= _per_meal(rations[1]).food_g


@given(weight=st.floats(), adult=st.floats(), method=st.sampled_from(PupMethod))
def test_any_weight_gives_finite_amounts_or_the_pup_is_left_out(
    weight: float, adult: float, method: PupMethod
) -> None:
    ration = ration_for_litter(_litter(weight, adult_kg=adult), DRY, _stage(35), method, AT)
    assert len(ration.pups) + len(ration.left_out) == 1
    for pup in ration.pups:
        assert math.isfinite(pup.per_meal.mix_g)
        assert pup.per_meal.mix_g >= 0


@given(energy_kcal=st.floats(min_value=0, max_value=1e6), per_kg=st.floats(min_value=100, max_value=9500))
def test_the_food_of_a_portion_holds_its_energy(energy_kcal: float, per_kg: float) -> None:
    found = portion(energy_kcal, Food("puppy food", per_kg, "typed"), None)
    assert found.food_g * per_kg / 1000 == pytest.approx(energy_kcal, rel=1e-12, abs=1e-9)
    assert found.mix_g == found.food_g
