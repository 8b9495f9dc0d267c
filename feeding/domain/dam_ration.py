"""The dam's ration by stage and by the pups that really suck."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from feeding.domain import energy
from feeding.domain.foods import Food
from feeding.domain.stages import DEFAULT_STAGES, Stage, stage_on

STALE_AFTER_DAYS = 7.0
WATER_ML_PER_KCAL = 1.0
LAST_NURSING_DAY = 84
WEEK_4_LAST_DAY = 27
NURSING_WATER = (
    "A nursing dam drinks about 1 mL per kcal; 35 kg with a big litter may drink 5-6 L a day"
    " (Small Animal Clinical Nutrition, 5th ed., p. 284)."
)
ECLAMPSIA = (
    "Restless, panting, stiff, trembling or hot: take the pups off and go to the vet now"
    " (Merck Veterinary Manual, Puerperal Hypocalcemia in Small Animals)."
)


class DamStage(StrEnum):
    """Where a dam stands."""

    ADULT = "adult"
    PREGNANT = "pregnant"
    NURSING = "nursing"


@dataclass(frozen=True)
class DamToFeed:
    """A dam with her own weight: days are completed days since conception or since whelping."""

    name: str
    mass_kg: float
    weighed_at: datetime | None
    stage: DamStage
    stage_days: int = 0
    pups_sucking: int = 0
    adult_factor: float = energy.ACTIVE_ADULT_FACTOR


@dataclass(frozen=True)
class DamRation:
    """A dam's need and food for a day and a meal; water in mL a day where it is published."""

    energy_kcal_per_day: float
    food_g_per_day: float
    food_g_per_meal: float
    meals_per_day: int
    water_ml_per_day: float | None
    other_methods_kcal_per_day: dict[str, tuple[float, float]]
    method: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def need_of_dam(dam: DamToFeed, stages: tuple[Stage, ...] = DEFAULT_STAGES) -> energy.EnergyNeed:
    """The dam's need: maintenance, pregnancy by its day, nursing by week and sucking pups, then the taper.

    stages: the litter's weaning stages, whose share of food tells how much milk is still taken after week 4.
    A dam without a sucking pup, or nursing beyond day 84, is reckoned at maintenance.  ValueError outside
    the ranges of the formulae.
    """
    if dam.stage_days < 0:
        raise ValueError(f"days cannot be negative: {dam.stage_days}")
    if dam.stage is DamStage.PREGNANT:
        return energy.gestation(dam.mass_kg, dam.stage_days, dam.adult_factor)
    if dam.pups_sucking < 0:
        raise ValueError(f"sucking pups cannot be negative: {dam.pups_sucking}")
    is_nursing = dam.stage is DamStage.NURSING and dam.pups_sucking > 0
    if not is_nursing or dam.stage_days > LAST_NURSING_DAY:
        return energy.maintenance(dam.mass_kg, dam.adult_factor)
    if dam.stage_days <= WEEK_4_LAST_DAY:
        return energy.lactation(dam.mass_kg, dam.pups_sucking, dam.stage_days // 7 + 1)
    return energy.lactation_after_week_4(
        dam.mass_kg,
        dam.pups_sucking,
        _milk_share(stages, dam.stage_days),
        max(_milk_share(stages, WEEK_4_LAST_DAY), 0.01),
        dam.adult_factor,
    )


def ration_for_dam(
    dam: DamToFeed,
    food: Food,
    at: datetime,
    *,
    meals_per_day: int = 2,
    stages: tuple[Stage, ...] = DEFAULT_STAGES,
    stale_after_days: float = STALE_AFTER_DAYS,
) -> DamRation:
    """A dam's food for a day and a meal at an instant, with the age of her weight said.

    meals_per_day: 1..8, set by the kennel (in pregnancy and lactation several small ones).
    """
    if not 1 <= meals_per_day <= 8:
        raise ValueError(f"meals a day must be 1 to 8, not {meals_per_day}")
    need = need_of_dam(dam, stages)
    food_g = energy.dry_grams_per_day(need.energy_kcal_per_day, food.energy_kcal_per_kg)
    is_nursing = need.method.startswith("lactation")
    return DamRation(
        need.energy_kcal_per_day,
        food_g,
        food_g / meals_per_day,
        meals_per_day,
        need.energy_kcal_per_day * WATER_ML_PER_KCAL if is_nursing else None,
        _other_methods(dam),
        need.method,
        need.source,
        (*need.inputs, f"{food.name}: {food.energy_kcal_per_kg:.0f} kcal/kg ({food.energy_source})"),
        (*need.assumptions, *_stage_assumptions(dam)),
        (*_weight_cautions(dam, at, stale_after_days), *need.cautions, *_stage_cautions(dam, is_nursing)),
    )


def _milk_share(stages: tuple[Stage, ...], age_days: int) -> float:
    """Part of the pups' need met by milk at an age: all of it before the first stage."""
    stage = stage_on(stages, age_days)
    return 1.0 if stage is None else 1.0 - stage.share_from_food


def _other_methods(dam: DamToFeed) -> dict[str, tuple[float, float]]:
    """What the other handbook gives for the same dam, low and high, kcal a day."""
    key = "multiples of RER (Small Animal Clinical Nutrition, Table 15-10)"
    if dam.stage is DamStage.PREGNANT:
        condition = "gestation_weeks_1_4" if dam.stage_days < 28 else "gestation_last_5_weeks"
    elif dam.stage is DamStage.NURSING and dam.pups_sucking > 0:
        condition = "lactation"
    else:
        return {}
    other = energy.resting_multiple_range(dam.mass_kg, condition)
    return {key: (other.low_kcal_per_day, other.high_kcal_per_day)}


def _stage_assumptions(dam: DamToFeed) -> tuple[str, ...]:
    if dam.stage is DamStage.NURSING and dam.pups_sucking == 0:
        return ("No pup sucks: reckoned at maintenance.",)
    if dam.stage is DamStage.NURSING and dam.stage_days > LAST_NURSING_DAY:
        return (f"Beyond day {LAST_NURSING_DAY} of nursing: reckoned at maintenance.",)
    return ()


def _stage_cautions(dam: DamToFeed, is_nursing: bool) -> tuple[str, ...]:
    if is_nursing:
        return (NURSING_WATER, ECLAMPSIA)
    return (ECLAMPSIA,) if dam.stage is DamStage.PREGNANT else ()


def _weight_cautions(dam: DamToFeed, at: datetime, stale_after_days: float) -> tuple[str, ...]:
    if dam.weighed_at is None:
        return (f"Nobody knows when {dam.name} was weighed: weigh again.",)
    age_days = (at - dam.weighed_at) / timedelta(days=1)
    if age_days > stale_after_days:
        return (f"The weight of {dam.name} is {age_days:.1f} days old: weigh again.",)
    return ()
