"""The meal for a litter: facts of the kennel put before the domain's reckoning, for many meals at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID

from feeding import selectors
from feeding.domain.plan import LitterRation, ration_for_litter
from feeding.domain.pup_needs import MissingWeight, PupMethod, PupToFeed
from feeding.domain.stages import Stage, stage_on
from feeding.selectors import Ask, LitterFacts
from feeding.stage_data import stages_of, wall_times_on
from kennel.clock.wall_clock import instant_of, local_day
from kennel.records.door import Door

NO_PLAN = "This litter has no feeding plan."
NOT_BORN = "This litter is not born yet."
NO_PUPS = "No living pup of this litter is here."


@dataclass(frozen=True)
class MealAsked:
    """A litter and the instant of a meal (of the past, or ahead).

    known_at: up to when facts count; None: up to the meal, for one ahead up to now.
    """

    litter: UUID
    at: datetime
    known_at: datetime | None = None


@dataclass(frozen=True)
class MealRation:
    """The ration of a litter for a meal at `at`, or the reason why there is none.

    age_days: completed days of the litter.  stage: None before the first, when pups live on milk.
    ration_uncorrected is the same without what came back: it is what later offers are measured against.
    """

    at: datetime
    known_at: datetime
    facts: LitterFacts
    age_days: int | None
    stage: Stage | None
    ration: LitterRation | None
    uncorrected: LitterRation | None
    assumptions: tuple[str, ...]
    reason: str = ""


def rations_at(
    asked: Sequence[MealAsked], door: Door, *, bowls: int | None = None
) -> list[MealRation | None]:
    """The ration of each litter at each instant, in order; None for a litter not in this kennel.  One query.

    bowls: instead of the plan's.
    """
    asks = [
        Ask(one.litter, one.known_at or min(one.at, door.at), local_day(one.at, door.kennel.zone))
        for one in asked
    ]
    found = selectors.litter_facts(asks, door)
    made: dict[tuple[int, datetime], MealRation] = {}
    answers: list[MealRation | None] = []
    for one, ask, facts in zip(asked, asks, found, strict=True):
        if facts is None:
            answers.append(None)
            continue
        key = (id(facts), one.at)
        if key not in made:
            made[key] = _ration(one.at, ask.known_at, facts, door.kennel.zone, bowls)
        answers.append(made[key])
    return answers


def age_on(born_at: datetime, at: datetime, zone: str) -> int:
    """Completed days by the kennel's calendar: "4 weeks" is day 28."""
    return (local_day(at, zone) - local_day(born_at, zone)).days


def pups_to_feed(facts: LitterFacts, at: datetime, zone: str) -> tuple[list[PupToFeed], tuple[str, ...]]:
    """The pups that are here as the domain sees them, and what was assumed about their adult weight."""
    adult_kg, assumptions = _adult_kg(facts.row)
    pups = [
        PupToFeed(p.called, max(0, age_on(p.born_at, at, zone)), p.weight_g, p.weighed_at, adult_kg)
        for p in facts.pups
    ]
    return pups, assumptions


def _adult_kg(row: dict[str, Any]) -> tuple[float | None, tuple[str, ...]]:
    plan = row["plan"] or {}
    for stated in (plan.get("expected_adult_kg"), row["litter_adult_kg"]):
        if stated is not None:
            return float(stated), ()
    dam = row["dam"]
    if dam["adult_kg"] is None:
        return None, ()
    return float(dam["adult_kg"]), (
        f"Expected adult weight taken from {dam['name']}: {float(dam['adult_kg']):g} kg.",
    )


def _ration(at: datetime, known_at: datetime, facts: LitterFacts, zone: str, bowls: int | None) -> MealRation:
    plan = facts.plan

    def without(reason: str, age_days: int | None = None) -> MealRation:
        return MealRation(at, known_at, facts, age_days, None, None, None, (), reason)

    if facts.whelped_at is None:
        return without(NOT_BORN)
    age_days = age_on(facts.whelped_at, at, zone)
    if plan is None:
        return without(NO_PLAN, age_days)
    stages = stages_of(plan["stages"])
    stage = stage_on(stages, age_days) if age_days >= 0 else None
    if stage is None:
        return without(
            f"Milk only until day {stages[0].from_day}; this litter is {age_days} days old.", age_days
        )
    if not facts.pups:
        return without(NO_PUPS, age_days)
    pups, assumptions = pups_to_feed(facts, at, zone)
    food = selectors.food_of(facts.row["food"])

    def reckoned(meals: Sequence[Any]) -> LitterRation:
        return ration_for_litter(
            pups,
            food,
            stage,
            PupMethod(plan["method"]),
            at,
            meals=meals,
            bowls=bowls or plan["bowls"],
            stale_after_days=float(plan["stale_after_days"]),
            missing=MissingWeight(plan["missing_weight"]),
        )

    return MealRation(at, known_at, facts, age_days, stage, reckoned(facts.meals), reckoned(()), assumptions)


def next_meal_at(
    facts: LitterFacts, at: datetime, zone: str, wall_time: time | None = None
) -> datetime | None:
    """The next meal of the plan at or after `at` (of that wall time when given); None when there is none."""
    if facts.plan is None or facts.whelped_at is None:
        return None
    stages = facts.plan["stages"]
    first_on = local_day(facts.whelped_at, zone)
    today = local_day(at, zone)
    for day in (today + timedelta(days=n) for n in range(3)):
        for planned in wall_times_on(stages, (day - first_on).days):
            meal_at = instant_of(day, planned, zone)
            if meal_at >= at and (wall_time is None or planned == wall_time):
                return meal_at
    return None
