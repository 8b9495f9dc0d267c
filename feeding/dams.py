"""The dam's ration from the facts of the kennel: her weight, where she stands, the pups that really suck."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from feeding import selectors
from feeding.domain.dam_ration import DamRation, DamStage, DamToFeed, ration_for_dam
from feeding.domain.stages import DEFAULT_STAGES
from feeding.rations import age_on
from feeding.selectors import Ask, LitterFacts
from feeding.stage_data import stages_of
from kennel.clock.wall_clock import local_day
from kennel.records.door import Door

SUCKING = ("sucking", "topped_up")
USUAL_MEALS = 3


@dataclass(frozen=True)
class DamAnswer:
    """The dam's ration, or the reason why there is none; pups_sucking counts pups that are here and suck."""

    facts: LitterFacts
    dam: DamToFeed | None
    food: dict[str, Any] | None
    ration: DamRation | None
    pups_sucking: int
    assumptions: tuple[str, ...]
    reason: str = ""


def dam_ration_at(
    litter: UUID,
    at: datetime,
    door: Door,
    *,
    food: dict[str, Any] | None = None,
    meals_per_day: int | None = None,
) -> DamAnswer | None:
    """The ration of a litter's dam at an instant; None for a litter not in this kennel.  Two queries.

    food: instead of the plan's.  Raises ValueError where no published formula holds (a litter of 31).
    """
    facts = selectors.litter_facts([Ask(litter, min(at, door.at), local_day(at, door.kennel.zone))], door)[0]
    if facts is None:
        return None
    row = facts.row
    sucking = sum(pup.rearing in SUCKING for pup in facts.pups)
    chosen = food or row["dam_food"] or row["food"]
    dam, assumptions = dam_to_feed(facts, at, sucking, door)
    if dam is None:
        reason = f"No weight of {row['dam']['name']} is known: weigh her, or enter her usual adult weight."
        return DamAnswer(facts, None, chosen, None, sucking, (), reason)
    if chosen is None or chosen["kcal_per_kg"] is None:
        reason = "No food is chosen: name one, or make a feeding plan."
        return DamAnswer(facts, dam, chosen, None, sucking, assumptions, reason)
    plan = facts.plan
    ration = ration_for_dam(
        dam,
        selectors.food_of(chosen),
        at,
        meals_per_day=meals_per_day or (plan["dam_meals_per_day"] if plan else USUAL_MEALS),
        stages=stages_of(plan["stages"]) if plan else DEFAULT_STAGES,
    )
    return DamAnswer(facts, dam, chosen, ration, sucking, assumptions)


def dam_to_feed(
    facts: LitterFacts, at: datetime, sucking: int, door: Door
) -> tuple[DamToFeed | None, tuple[str, ...]]:
    """The dam as the domain sees her; None when nobody knows her weight.  One query."""
    dam = facts.row["dam"]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT w.weight_g, w.occurred_at FROM litters_weighing w
            JOIN litters_dog d ON d.kennel_id = w.kennel_id AND d.id = w.dog_id
            WHERE w.kennel_id = %s AND d.uid = %s AND w.deleted_at IS NULL AND w.occurred_at <= %s
            ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1
            """,
            [door.kennel.id, dam["uid"], min(at, door.at)],
        )
        weighed = cursor.fetchone()
    assumptions: list[str] = []
    if weighed is not None:
        mass_kg, weighed_at = float(weighed[0]) / 1000, weighed[1]
    elif dam["adult_kg"] is not None:
        mass_kg, weighed_at = float(dam["adult_kg"]), None
        assumptions.append(f"No weighing of {dam['name']}: her usual adult weight is taken.")
    else:
        return None, ()
    stage, days = _stage(facts, at, door.kennel.zone, assumptions)
    return DamToFeed(dam["name"], mass_kg, weighed_at, stage, days, sucking), tuple(assumptions)


def _stage(facts: LitterFacts, at: datetime, zone: str, assumptions: list[str]) -> tuple[DamStage, int]:
    today = local_day(at, zone)
    weaned_on = facts.row["weaned_on"]
    if facts.whelped_at is not None and facts.whelped_at <= at:
        if weaned_on and date.fromisoformat(weaned_on) <= today:
            return DamStage.ADULT, 0
        return DamStage.NURSING, age_on(facts.whelped_at, at, zone)
    mated_on = facts.row["mated_on"]
    if mated_on is None or date.fromisoformat(mated_on) > today:
        assumptions.append("No mating day is known: reckoned at maintenance.")
        return DamStage.ADULT, 0
    days = (today - date.fromisoformat(mated_on)).days
    if days > 75:
        assumptions.append("Mated more than 75 days ago and no litter entered: reckoned at maintenance.")
        return DamStage.ADULT, 0
    assumptions.append("Days of pregnancy are counted from the mating day.")
    return DamStage.PREGNANT, days
