"""The dam's ration by stage and by pups that really suck."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain import energy
from feeding.domain.dam_ration import DamStage, DamToFeed, need_of_dam, ration_for_dam
from feeding.domain.foods import Food
from feeding.domain.stages import default_stages

AT = datetime(2026, 5, 1, 8, tzinfo=UTC)
FOOD = Food("puppy food", 4000, "printed by the maker")
BRAMBLE = DamToFeed("Bramble", 19, AT - timedelta(days=1), DamStage.NURSING, 10, 7)


@pytest.mark.parametrize(("day", "week"), [(0, 1), (6, 1), (7, 2), (20, 3), (21, 4), (27, 4)])
def test_nursing_weeks_are_counted_in_completed_days(day: int, week: int) -> None:
    # Convention: lactation week 4 is days 21-27.
    expected = energy.lactation(19, 7, week).energy_kcal_per_day
    assert need_of_dam(replace(BRAMBLE, stage_days=day)).energy_kcal_per_day == expected


def test_only_pups_that_suck_count() -> None:
    all_seven, three = need_of_dam(BRAMBLE), need_of_dam(replace(BRAMBLE, pups_sucking=3))
    assert three.energy_kcal_per_day < all_seven.energy_kcal_per_day


def test_a_dam_whose_pups_all_drink_from_the_bottle_is_reckoned_at_maintenance_and_that_is_said() -> None:
    ration = ration_for_dam(replace(BRAMBLE, pups_sucking=0), FOOD, AT)
    assert ration.method == "maintenance"
    assert "No pup sucks: reckoned at maintenance." in ration.assumptions
    assert ration.water_ml_per_day is None
    assert ration.other_methods_kcal_per_day == {}


@pytest.mark.parametrize(
    ("day", "method"),
    [(27, "lactation"), (28, "lactation_after_week_4"), (84, "lactation_after_week_4"), (85, "maintenance")],
)
def test_the_methods_follow_one_another(day: int, method: str) -> None:
    assert need_of_dam(replace(BRAMBLE, stage_days=day)).method == method


def test_the_need_falls_from_week_four_to_maintenance_as_the_pups_eat() -> None:
    needs = [
        need_of_dam(replace(BRAMBLE, stage_days=day)).energy_kcal_per_day for day in (27, 28, 35, 42, 49)
    ]
    assert needs == sorted(needs, reverse=True)
    assert needs[-1] == pytest.approx(energy.maintenance(19).energy_kcal_per_day)


def test_an_early_start_of_food_holds_week_four_by_its_own_share() -> None:
    early = need_of_dam(replace(BRAMBLE, stage_days=28), default_stages(21)).energy_kcal_per_day
    week_4 = energy.lactation(19, 7, 4).energy_kcal_per_day
    base = energy.maintenance(19).energy_kcal_per_day
    assert early == pytest.approx(base + (week_4 - base) * 0.75 / 0.9)


def test_pregnancy_follows_its_day() -> None:
    dam = replace(BRAMBLE, stage=DamStage.PREGNANT, pups_sucking=0)
    assert need_of_dam(replace(dam, stage_days=20)).method == "maintenance"
    late = ration_for_dam(replace(dam, stage_days=50), FOOD, AT)
    assert late.method == "gestation_late"
    assert any("calcium" in text for text in late.cautions)


def test_food_meals_and_water_follow_from_the_need() -> None:
    ration = ration_for_dam(BRAMBLE, FOOD, AT, meals_per_day=4)
    assert ration.food_g_per_day == pytest.approx(ration.energy_kcal_per_day / 4)
    assert ration.food_g_per_meal == pytest.approx(ration.food_g_per_day / 4)
    # About 1 mL per kcal: Small Animal Clinical Nutrition, 5th ed., p. 284.
    assert ration.water_ml_per_day == pytest.approx(ration.energy_kcal_per_day)
    assert any("take the pups off" in text for text in ration.cautions)


def test_the_other_handbook_stands_beside_the_number() -> None:
    # Small Animal Clinical Nutrition, Table 15-10: lactation 4-8 x RER.
    (span,) = ration_for_dam(BRAMBLE, FOOD, AT).other_methods_kcal_per_day.values()
    rer = energy.resting(19).energy_kcal_per_day
    assert span == (pytest.approx(4 * rer), pytest.approx(8 * rer))


def test_an_old_weight_is_said_with_its_age() -> None:
    old = replace(BRAMBLE, weighed_at=AT - timedelta(days=12))
    assert ration_for_dam(old, FOOD, AT).cautions[0] == "The weight of Bramble is 12.0 days old: weigh again."
    unknown = replace(BRAMBLE, weighed_at=None)
    assert "Nobody knows" in ration_for_dam(unknown, FOOD, AT).cautions[0]
    assert not any("weigh again" in text for text in ration_for_dam(BRAMBLE, FOOD, AT).cautions)


@pytest.mark.parametrize(
    "dam",
    [
        replace(BRAMBLE, stage_days=-1),
        replace(BRAMBLE, pups_sucking=-1),
        replace(BRAMBLE, mass_kg=0),
        replace(BRAMBLE, stage=DamStage.PREGNANT, stage_days=90),
    ],
)
def test_an_impossible_dam_is_refused(dam: DamToFeed) -> None:
    with pytest.raises(ValueError):
        ration_for_dam(dam, FOOD, AT)


def test_an_impossible_number_of_meals_is_refused() -> None:
    with pytest.raises(ValueError, match="meals"):
        ration_for_dam(BRAMBLE, FOOD, AT, meals_per_day=0)


@given(
    mass=st.floats(),
    factor=st.floats(),
    stage=st.sampled_from(DamStage),
    days=st.integers(min_value=-5, max_value=400),
    pups=st.integers(min_value=-2, max_value=40),
)
def test_any_dam_gets_a_finite_ration_or_is_refused(
    mass: float, factor: float, stage: DamStage, days: int, pups: int
) -> None:
    try:
        ration = ration_for_dam(DamToFeed("Sorrel", mass, AT, stage, days, pups, factor), FOOD, AT)
    except ValueError:
        return
    assert math.isfinite(ration.food_g_per_meal)
    assert ration.food_g_per_meal > 0
