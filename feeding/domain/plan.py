"""The meal for a litter now: kcal, food and water for every pup, the whole, and each bowl.

Need by the method chosen × the part of it that comes from food at this stage × the correction from what came
back, divided by the meals of a day; food by its energy, water by the soak of the stage.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from feeding.domain.foods import Food
from feeding.domain.gruel import SOAK_CAUTIONS, SoakRatio, water_for_dry_ml, water_range_ml
from feeding.domain.leftovers import Correction, MealOutcome, correction
from feeding.domain.pup_needs import (
    STALE_AFTER_DAYS,
    LeftOut,
    MissingWeight,
    PupMethod,
    PupNeed,
    PupToFeed,
    need_of_pup,
    needs_of_litter,
    weight_cautions,
)
from feeding.domain.stages import MOST_MEALS_OF_SOFTENED_FOOD, STAGE_SOURCE, Stage

WEANED_FROM_DAY = 49
ONE_MEAL_SOAK = SoakRatio(1, 1)
WET_FOOD_MIX = SoakRatio(2, 1)
WATER_BOWL = "A shallow bowl of fresh water always stands there once food is offered."


@dataclass(frozen=True)
class Portion:
    """An amount of food: kcal ME, g of food without the water, mL of water with its range, g of the mix."""

    energy_kcal: float
    food_g: float
    water_ml: float
    water_low_ml: float
    water_high_ml: float
    mix_g: float


@dataclass(frozen=True)
class PupRation:
    """One pup's need a day, the part of it that comes from food, and its portion of one meal."""

    name: str
    need_kcal_per_day: float
    food_kcal_per_day: float
    per_meal: Portion
    weight_g: float
    weight_age_days: float | None
    weight_is_stale: bool
    weight_is_assumed: bool


@dataclass(frozen=True)
class LitterRation:
    """The ration of a litter; the portions are None when no pup could be reckoned.

    other_methods_kcal_per_day: the same pups' whole need by every other method that can be reckoned.
    """

    pups: tuple[PupRation, ...]
    left_out: tuple[LeftOut, ...]
    stage: Stage
    meals_per_day: int
    bowls: int
    need_kcal_per_day: float
    per_day: Portion | None
    per_meal: Portion | None
    per_bowl: Portion | None
    soaked_meal_water_ml: float | None
    correction: Correction
    other_methods_kcal_per_day: dict[str, float]
    method: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def ration_for_litter(
    pups: Sequence[PupToFeed],
    food: Food,
    stage: Stage,
    method: PupMethod,
    at: datetime,
    *,
    meals: Sequence[MealOutcome] = (),
    bowls: int = 1,
    stale_after_days: float = STALE_AFTER_DAYS,
    missing: MissingWeight = MissingWeight.LEAVE_OUT,
) -> LitterRation:
    """The ration of a litter at an instant.

    meals: past bowls, oldest first, for the correction; bowls: into how many equal bowls a meal goes, 1..30.
    Pups without a weight (or, for growth methods, without an expected adult mass) are left out and named.
    ValueError for no pup, two of one name or a number of bowls outside the range.
    """
    if not 1 <= bowls <= 30:
        raise ValueError(f"bowls must be 1 to 30, not {bowls}")
    needs, left_out = needs_of_litter(pups, method, at, stale_after_days, missing)
    corrected = correction(meals)
    soak = soak_for(food, stage)
    rations = tuple(_pup_ration(one, food, stage, soak, corrected.factor) for one in needs)
    food_kcal = sum(ration.food_kcal_per_day for ration in rations)
    per_meal_kcal = food_kcal / stage.meals_per_day
    per_meal = portion(per_meal_kcal, food, soak) if rations else None
    return LitterRation(
        rations,
        tuple(left_out),
        stage,
        stage.meals_per_day,
        bowls,
        sum(ration.need_kcal_per_day for ration in rations),
        portion(food_kcal, food, soak) if rations else None,
        per_meal,
        portion(per_meal_kcal / bowls, food, soak) if rations else None,
        _soaked_meal_water_ml(per_meal, food, stage),
        corrected,
        _other_methods(needs, method),
        f"{method} × share from food {stage.share_from_food:.0%} × correction {corrected.factor:.0%}",
        "; ".join(dict.fromkeys([*(one.need.source for one in needs), STAGE_SOURCE])),
        _inputs(needs, food),
        _assumptions(needs, food, stage, soak, method, corrected),
        _cautions(needs, left_out, stage, soak, method, corrected),
    )


def soak_for(food: Food, stage: Stage) -> SoakRatio | None:
    """The soak of a stage for this food: dry food as the stage says, wet food 2:1 while the gruel is thin."""
    if food.is_dry or stage.soak is None:
        return stage.soak
    is_thin = stage.soak.water_parts >= stage.soak.food_parts
    return WET_FOOD_MIX if is_thin else None


def portion(energy_kcal: float, food: Food, soak: SoakRatio | None) -> Portion:
    """The food that holds `energy_kcal` (0 or more) and the water that softens it."""
    food_g = energy_kcal / food.energy_kcal_per_kg * 1000
    if soak is None:
        return Portion(energy_kcal, food_g, 0.0, 0.0, 0.0, food_g)
    density = food.known_density_g_per_ml
    water_ml = water_for_dry_ml(food_g, soak, density)
    low_ml, high_ml = water_range_ml(food_g, soak, density)
    return Portion(energy_kcal, food_g, water_ml, low_ml, high_ml, food_g + water_ml)


def _pup_ration(one: PupNeed, food: Food, stage: Stage, soak: SoakRatio | None, factor: float) -> PupRation:
    food_kcal = one.need.energy_kcal_per_day * stage.share_from_food * factor
    return PupRation(
        one.pup.name,
        one.need.energy_kcal_per_day,
        food_kcal,
        portion(food_kcal / stage.meals_per_day, food, soak),
        one.weight.weight_g,
        one.weight.age_days,
        one.weight.is_stale,
        one.weight.is_assumed,
    )


def _soaked_meal_water_ml(per_meal: Portion | None, food: Food, stage: Stage) -> float | None:
    """Water for the one meal a day kept soft although the others are dry."""
    if per_meal is None or not stage.one_soaked_meal or not food.is_dry:
        return None
    return water_for_dry_ml(per_meal.food_g, ONE_MEAL_SOAK, food.known_density_g_per_ml)


def _other_methods(needs: Sequence[PupNeed], method: PupMethod) -> dict[str, float]:
    """Whole need of the same pups by the other methods, because the published ones disagree by half."""
    totals: dict[str, float] = {}
    for other in PupMethod:
        if other is method or not needs:
            continue
        try:
            totals[other.value] = sum(
                need_of_pup(one.weight.weight_g, other, one.pup.expected_adult_kg).energy_kcal_per_day
                for one in needs
            )
        except ValueError:
            continue  # that method lacks an input of some pup; the chosen one did not
    return totals


def _inputs(needs: Sequence[PupNeed], food: Food) -> tuple[str, ...]:
    weights = [f"{one.pup.name} {one.weight.weight_g:.0f} g{_age_text(one)}" for one in needs]
    return (*weights, f"{food.name}: {food.energy_kcal_per_kg:.0f} kcal/kg ({food.energy_source})")


def _age_text(one: PupNeed) -> str:
    return "" if one.weight.age_days is None else f", {one.weight.age_days:.1f} days old"


def _assumptions(
    needs: Sequence[PupNeed],
    food: Food,
    stage: Stage,
    soak: SoakRatio | None,
    method: PupMethod,
    corrected: Correction,
) -> tuple[str, ...]:
    stated = [f"{stage.share_from_food:.0%} of the need comes from food at this stage (common practice)."]
    if soak is not None or stage.one_soaked_meal:
        stated.extend(food.density_assumptions)
    if method is not PupMethod.NEWBORN and any(one.pup.age_days < WEANED_FROM_DAY for one in needs):
        stated.append("The growth formula is published for weaned pups and used before that here.")
    stated.extend(corrected.assumptions)
    stated.extend(text for one in needs[:1] for text in one.need.assumptions)
    return tuple(dict.fromkeys(stated))


def _cautions(
    needs: Sequence[PupNeed],
    left_out: Sequence[LeftOut],
    stage: Stage,
    soak: SoakRatio | None,
    method: PupMethod,
    corrected: Correction,
) -> tuple[str, ...]:
    said = [*weight_cautions(needs, left_out), *corrected.cautions]
    if method is PupMethod.NEWBORN and any(one.pup.age_days >= WEANED_FROM_DAY for one in needs):
        said.append("25 kcal/100 g is meant for unweaned pups.")
    if soak is not None and stage.meals_per_day > MOST_MEALS_OF_SOFTENED_FOOD:
        said.append(f"More than {MOST_MEALS_OF_SOFTENED_FOOD} meals of softened food a day.")
    if stage.share_from_food >= 1 and corrected.factor < 1:
        said.append("Weaned pups eat less than their reckoned need: weigh daily, ask the vet if one loses.")
    if soak is not None or stage.one_soaked_meal:
        said.extend(SOAK_CAUTIONS)
    said.extend(text for one in needs for text in one.need.cautions)
    return tuple(dict.fromkeys([*said, WATER_BOWL]))
