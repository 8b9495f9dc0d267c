"""What soaks, meals and bottle rounds ask for, reckoned for many occasions at once."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field

from feeding import selectors
from feeding.bottles import BottleAsked, bottles_at
from feeding.domain.plan import PupRation
from feeding.ration_json import ration_json
from feeding.rations import MealAsked, MealRation, rations_at
from feeding.selectors import Ask, PupHere
from kennel.clock.wall_clock import instant_of, local_day, zone_of
from kennel.duties import kinds
from kennel.duties.kinds import Animal, Asked, Caution, DutyKind, Occasion, Telling
from kennel.records.door import Door

GRAMS_AN_OUNCE = 28.349523125  # NIST Special Publication 811, appendix B.8
NOBODY = UUID(int=0)
MILK_FIRST = Caution("bottle", "Temperature first, then the suck, only then milk: a chilled pup gets none.")


class SoakSettings(BaseModel):
    """How long before its meal a soak begins, in minutes of the clock."""

    model_config = ConfigDict(extra="forbid")

    minutes: Annotated[int, Field(ge=1, le=720)]


def plan_meals(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """The bowl of each meal: all pups that are here, with the kcal, grams and weights it stands on."""
    rations = rations_at([MealAsked(_litter(o), o.due_at) for o in occasions], door)
    return [None if one is None or one.ration is None else _meal(one) for one in rations]


def _litter(occasion: Occasion) -> UUID:
    return occasion.routine.subject_uid or NOBODY


def _meal(one: MealRation) -> Asked:
    assert one.ration is not None
    shown = ration_json(one)
    by_name = {pup.name: pup for pup in one.ration.pups}
    animals = [
        Animal("pup", pup.uid, pup.called, _pup_asks(pup, by_name.get(pup.called))) for pup in one.facts.pups
    ]
    return Asked(
        animals=animals,
        asks=_asks(one, shown),
        cautions=[Caution("feeding", text) for text in one.ration.cautions],
    )


def _pup_asks(pup: PupHere, share: PupRation | None) -> dict[str, Any]:
    if share is None:
        return {}
    return {
        "energy_kcal": _whole(share.per_meal.energy_kcal),
        "dry_g": _whole(share.per_meal.food_g),
        "weight_g": _whole(share.weight_g),
        "weighed_at": None if share.weight_is_assumed else pup.weighed_at,
    }


def _whole(value: float | None) -> int | None:
    """Whole kcal, g and mL: no kitchen scale shows more, and a figure that is stored stays comparable."""
    return None if value is None else round(value)


def _asks(one: MealRation, shown: dict[str, Any]) -> dict[str, Any]:
    """What is kept: planned energy, grams and water, the food and the weights they stand on.

    Each figure is rounded once, from the reckoned one: 800.545 mL is 801 mL, which 800.5 mL would not tell.
    """
    portion = bowl = uncorrected = None
    if one.ration is not None:
        portion, bowl = one.ration.per_meal, one.ration.per_bowl
    if one.uncorrected is not None:
        uncorrected = one.uncorrected.per_meal
    return {
        "litter": shown["litter"],
        "litter_name": shown["litter_name"],
        "meal_at": one.at,
        "energy_kcal": portion and _whole(portion.energy_kcal),
        "dry_g": portion and _whole(portion.food_g),
        "water_ml": portion and _whole(portion.water_ml),
        "bowls": shown["bowls"],
        "dry_g_per_bowl": bowl and _whole(bowl.food_g),
        "water_ml_per_bowl": bowl and _whole(bowl.water_ml),
        "planned_dry_g": uncorrected and _whole(uncorrected.food_g),
        "food": shown["food"]["name"],
        "food_kind": shown["food"]["kind"],
        "texture": shown["stage"]["texture"],
        "method": shown["method"],
        "pups": len(one.facts.pups),
        "weights": [
            {"pup": pup["pup"], "weight_g": _whole(pup["weight_g"]), "weighed_at": pup["weighed_at"]}
            for pup in shown["pups"]
        ],
    }


def plan_soaks(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """What to soak for the meal that follows: the same figures, for the litter as a whole."""
    meals = [_meal_after(o, door.kennel.zone) for o in occasions]
    rations = rations_at([MealAsked(_litter(o), at) for o, at in zip(occasions, meals, strict=True)], door)
    return [None if one is None or one.ration is None else _soak(one) for one in rations]


def _meal_after(occasion: Occasion, zone: str) -> datetime:
    """The meal a soak is for: so many minutes later by the clock on the wall, as the plan reckons."""
    wall = occasion.due_at.astimezone(zone_of(zone)).replace(tzinfo=None)
    later = wall + timedelta(minutes=int(occasion.routine.settings["minutes"]))
    return max(instant_of(later.date(), later.time(), zone), occasion.due_at + timedelta(minutes=1))


def _soak(one: MealRation) -> Asked | None:
    shown = ration_json(one)
    asks = _asks(one, shown)
    if not asks["water_ml"]:
        asks["water_ml"] = None if one.ration is None else _whole(one.ration.soaked_meal_water_ml)
        asks["water_ml_per_bowl"] = None
    if not asks["water_ml"] or one.ration is None:
        return None
    return Asked(
        animals=[Animal("litter", one.facts.uid, one.facts.name)],
        asks=asks,
        cautions=[Caution("feeding", text) for text in one.ration.cautions],
        useful_until=one.at,
    )


def plan_bottles(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """The pups fed by hand or topped up.  A volume stands there only when milk may be given by what is known."""
    asks = [Ask(_litter(o), door.at, local_day(o.due_at, door.kennel.zone)) for o in occasions]
    found = selectors.litter_facts(asks, door)
    rounds = [
        [pup for pup in facts.pups if pup.rearing in ("hand_fed", "topped_up")]
        if facts and facts.plan
        else []
        for facts in found
    ]
    asked = [
        BottleAsked(pup.uid, max(occasion.due_at, door.at))
        for occasion, pups in zip(occasions, rounds, strict=True)
        for pup in pups
    ]
    advice = iter(bottles_at(asked, door))
    answers: list[Asked | None] = []
    for pups, facts in zip(rounds, found, strict=True):
        animals = []
        for pup in pups:
            bottle = next(advice)
            plan = bottle.advice.plan if bottle is not None and bottle.advice is not None else None
            step = "" if bottle is None or bottle.advice is None else bottle.advice.step.value
            # Rounded down: rather a little less than more than the stomach holds.
            volume = None if plan is None else f"{math.floor(plan.advised_volume_ml_per_feed * 10) / 10:.1f}"
            animals.append(Animal("pup", pup.uid, pup.called, {"step": step, "volume_ml": volume}))
        if not animals or facts is None:
            answers.append(None)
            continue
        answers.append(
            Asked(
                animals=animals,
                asks={"litter": facts.uid, "litter_name": facts.name},
                cautions=[MILK_FIRST],
            )
        )
    return answers


def grams_text(grams: float, unit: str) -> str:
    """A mass of food in the reader's unit."""
    return f"{grams / GRAMS_AN_OUNCE:.1f} oz" if unit in ("oz", "lb") else f"{grams:.0f} g"


def meal_text(telling: Telling) -> str:
    """The bowl in one sentence."""
    asks = telling.asks
    if asks.get("dry_g") is None:
        return f"{asks['litter_name']}: no amount can be reckoned, weigh the pups."
    water = f" and {asks['water_ml']:.0f} mL water" if asks["water_ml"] else ""
    each = ""
    if asks["bowls"] > 1:
        each = (
            f" in {asks['bowls']} bowls, {grams_text(float(asks['dry_g_per_bowl']), telling.mass_unit)} each"
        )
    return (
        f"{asks['litter_name']}, {asks['pups']} pups: {grams_text(float(asks['dry_g']), telling.mass_unit)} of"
        f" {asks['food']}{water}{each} ({asks['energy_kcal']:.0f} kcal)."
    )


def soak_text(telling: Telling) -> str:
    """What to soak now, and for when."""
    asks = telling.asks
    meal_at = asks["meal_at"]
    at = meal_at if isinstance(meal_at, datetime) else datetime.fromisoformat(meal_at)
    clock = at.astimezone(zone_of(telling.zone)).strftime("%H:%M")
    return (
        f"Soak for {clock}, {asks['litter_name']}, {asks['pups']} pups:"
        f" {grams_text(float(asks['dry_g']), telling.mass_unit)} of {asks['food']} in {asks['water_ml']:.0f} mL water."
    )


def bottle_text(telling: Telling) -> str:
    """Who gets a bottle; volumes only where they may be said."""
    names = [
        f"{one.name} up to {one.asks['volume_ml']} mL" if one.asks.get("volume_ml") else one.name
        for one in telling.animals
    ]
    return f"{telling.asks['litter_name']}: {', '.join(names)}. {MILK_FIRST[1]}"


def register() -> None:
    """Add the three kinds; called once, from `apps.py`."""
    kinds.register(
        DutyKind(
            "soak",
            "Soak the food",
            plan=plan_soaks,
            describe=soak_text,
            useful_for=timedelta(hours=2),
            wakes_night_duty=True,
            settings=SoakSettings,
        )
    )
    kinds.register(
        DutyKind(
            "meal",
            "Meal",
            plan=plan_meals,
            describe=meal_text,
            done_by=("meal",),
            early=timedelta(hours=1),
            useful_for=timedelta(hours=2),
            wakes_night_duty=True,
        )
    )
    kinds.register(
        DutyKind(
            "bottle-round",
            "Bottles",
            plan=plan_bottles,
            describe=bottle_text,
            done_by=("bottle-feed",),
            early=timedelta(minutes=45),
            useful_for=timedelta(hours=2),
            wakes_night_duty=True,
        )
    )
