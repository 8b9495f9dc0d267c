"""A ration as the API answers it and as a duty stores it: plain JSON with rounded figures and their units."""

from datetime import datetime
from typing import Any

from feeding.domain.plan import LitterRation, Portion, PupRation
from feeding.rations import MealRation
from feeding.selectors import PupHere


def rounded(value: float | None, places: int = 1) -> float | None:
    """A figure for people; None stays None."""
    return None if value is None else round(value, places)


def portion_json(portion: Portion | None) -> dict[str, Any] | None:
    """Energy in kcal, food before water in g, water in mL with its range, the mix in g."""
    if portion is None:
        return None
    return {
        "energy_kcal": rounded(portion.energy_kcal),
        "dry_g": rounded(portion.food_g),
        "water_ml": rounded(portion.water_ml),
        "water_low_ml": rounded(portion.water_low_ml),
        "water_high_ml": rounded(portion.water_high_ml),
        "mix_g": rounded(portion.mix_g),
    }


def food_shown(row: dict[str, Any]) -> dict[str, Any]:
    """Which food, with its energy and where that comes from."""
    return {
        "uid": row["uid"],
        "name": row["name"],
        "kind": row["kind"],
        "energy_kcal_per_kg": None if row["kcal_per_kg"] is None else float(row["kcal_per_kg"]),
        "energy_method": row["energy_method"],
        "energy_is_estimated": row["energy_is_estimated"],
    }


def ration_json(one: MealRation) -> dict[str, Any]:
    """The whole answer; `reason` says why there are no amounts, empty when there are."""
    facts, ration = one.facts, one.ration
    shown: dict[str, Any] = {
        "litter": facts.uid,
        "litter_name": facts.name,
        "meal_at": one.at,
        "known_at": one.known_at,
        "age_days": one.age_days,
        "reason": one.reason,
        "plan": facts.plan and {"uid": facts.plan["uid"], "version": facts.plan["version"]},
        "food": facts.row["food"] and food_shown(facts.row["food"]),
    }
    if ration is None or one.stage is None or one.uncorrected is None or facts.plan is None:
        return shown
    return {
        **shown,
        "stage": {
            "from_day": one.stage.from_day,
            "meals_per_day": one.stage.meals_per_day,
            "soak": None if one.stage.soak is None else str(one.stage.soak),
            "share_from_food": one.stage.share_from_food,
            "texture": one.stage.texture,
        },
        "soak_minutes": facts.plan["soak_minutes"],
        "bowls": ration.bowls,
        "per_meal": portion_json(ration.per_meal),
        "per_bowl": portion_json(ration.per_bowl),
        "per_day": portion_json(ration.per_day),
        "per_meal_uncorrected": portion_json(one.uncorrected.per_meal),
        "soaked_meal_water_ml": rounded(ration.soaked_meal_water_ml),
        "need_kcal_per_day": rounded(ration.need_kcal_per_day),
        "pups": pups_json(ration, facts.pups),
        "left_out": [
            {"pup": uid_of(left.name, facts.pups), "name": left.name, "reason": left.reason}
            for left in ration.left_out
        ],
        "correction": {
            "factor": rounded(ration.correction.factor, 3),
            "eaten_share_of_plan": rounded(ration.correction.eaten_share_of_plan, 3),
            "meals_counted": ration.correction.meals_counted,
        },
        "other_methods_kcal_per_day": {
            name: rounded(kcal) for name, kcal in ration.other_methods_kcal_per_day.items()
        },
        "method": ration.method,
        "source": ration.source,
        "inputs": ration.inputs,
        "assumptions": [*ration.assumptions, *one.assumptions],
        "cautions": ration.cautions,
    }


def pups_json(ration: LitterRation, pups: tuple[PupHere, ...]) -> list[dict[str, Any]]:
    """Each pup's share with the weight it stands on."""
    weighed = {pup.called: pup for pup in pups}
    return [_pup_json(one, weighed[one.name]) for one in ration.pups]


def _pup_json(one: PupRation, pup: PupHere) -> dict[str, Any]:
    weighed_at: datetime | None = None if one.weight_is_assumed else pup.weighed_at
    return {
        "pup": pup.uid,
        "name": one.name,
        "need_kcal_per_day": rounded(one.need_kcal_per_day),
        "food_kcal_per_day": rounded(one.food_kcal_per_day),
        "per_meal": portion_json(one.per_meal),
        "weight_g": rounded(one.weight_g),
        "weighed_at": weighed_at,
        "weight_age_days": rounded(one.weight_age_days),
        "weight_is_stale": one.weight_is_stale,
        "weight_is_assumed": one.weight_is_assumed,
    }


def uid_of(name: str, pups: tuple[PupHere, ...]) -> Any:
    """Uid of a pup by what it is called."""
    return next((pup.uid for pup in pups if pup.called == name), None)
