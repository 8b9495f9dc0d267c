"""What to feed: the next bowl, the dam's ration, the forecast, whether a pup may have its bottle."""

from datetime import datetime, time
from decimal import Decimal
from typing import Annotated, Any
from uuid import UUID

from django.http import HttpResponse
from pydantic import BaseModel, Field

from feeding import bottles, selectors
from feeding.dams import dam_ration_at
from feeding.forecasts import forecast_at
from feeding.ration_json import food_shown, ration_json, rounded
from feeding.rations import MealAsked, MealRation, next_meal_at, rations_at
from feeding.selectors import Ask
from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.clock.wall_clock import local_day
from kennel.records import door
from kennel.records.door import Door
from kennel.records.fields import Instant, Uid, WallTimeText, number
from kennel.records.refusals import Refusal, invalid

MOST_DAYS = 180
_OPEN: dict[str, Any] = {
    "type": "object",
    "properties": {"reason": {"type": "string"}},
    "required": ["reason"],
}


class RationQuery(BaseModel, extra="forbid"):
    """`at`: an instant (default now); the next meal of the plan from then on counts, `meal` names its wall time.

    exact: the bowl at the instant `at` itself, whatever the meal times.
    """

    at: Instant | None = None
    meal: WallTimeText | None = None
    bowls: Annotated[int, Field(ge=1, le=30)] | None = None
    exact: bool = False


class LitterRation(KennelView):
    """The next bowl of a litter: pup by pup, by bowl, with the weights and the method it stands on."""

    query_input = RationQuery
    slugs = ("validation",)
    summary_of = {"get": "The ration of a litter's next meal"}
    answer_schema = _OPEN

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """kcal, g of food before water, mL of water; `reason` says why there is none."""
        query = self.query(RationQuery)
        with door.read(self.here, self.actor, self.at) as opened:
            ration = ration_of(parse_uid(uid), query, opened)
        return json_response(dumps(ration_json(ration)))


def ration_of(litter: UUID, query: RationQuery, opened: Door) -> MealRation:
    """The ration the query means.  Raises Refusal("not-found") for a litter that is not here."""
    at: datetime = query.at or opened.at
    meal_at = at
    if not query.exact:
        ask = Ask(litter, min(at, opened.at), local_day(at, opened.kennel.zone))
        facts = selectors.litter_facts([ask], opened)[0]
        if facts is None:
            raise Refusal("not-found")
        wall_time = None if query.meal is None else time.fromisoformat(query.meal)
        found = next_meal_at(facts, at, opened.kennel.zone, wall_time)
        if found is None and query.meal is not None and facts.plan is not None:
            raise invalid("meal", "unknown", "The plan has no meal at that time on these days.")
        meal_at = found or at
    ration = rations_at([MealAsked(litter, meal_at)], opened, bowls=query.bowls)[0]
    if ration is None:
        raise Refusal("not-found")
    return ration


class DamRationQuery(BaseModel, extra="forbid"):
    """`food`: uid of another food than the plan's."""

    at: Instant | None = None
    food: Uid | None = None
    meals_per_day: Annotated[int, Field(ge=1, le=8)] | None = None


class DamRation(KennelView):
    """What a litter's dam needs, by her own weight, her stage, and the pups that really suck."""

    query_input = DamRationQuery
    slugs = ("validation",)
    summary_of = {"get": "The dam's ration"}
    answer_schema = _OPEN

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """kcal, g of food and mL of water a day and a meal."""
        query = self.query(DamRationQuery)
        at = query.at or self.at
        with door.read(self.here, self.actor, self.at) as opened:
            food = _food(query.food, "food", opened)
            try:
                found = dam_ration_at(
                    parse_uid(uid), at, opened, food=food, meals_per_day=query.meals_per_day
                )
            except ValueError as error:
                raise invalid("at", "range", f"No published formula holds: {error}.") from None
        if found is None:
            raise Refusal("not-found")
        dam, ration = found.dam, found.ration
        shown: dict[str, Any] = {
            "litter": found.facts.uid,
            "dam": found.facts.row["dam"]["uid"],
            "name": found.facts.row["dam"]["name"],
            "at": at,
            "reason": found.reason,
            "pups_sucking": found.pups_sucking,
            "food": found.food and food_shown(found.food),
        }
        if dam is not None and ration is not None:
            shown |= {
                "weight_kg": rounded(dam.mass_kg, 3),
                "weighed_at": dam.weighed_at,
                "stage": dam.stage.value,
                "stage_days": dam.stage_days,
                "energy_kcal_per_day": rounded(ration.energy_kcal_per_day),
                "food_g_per_day": rounded(ration.food_g_per_day),
                "food_g_per_meal": rounded(ration.food_g_per_meal),
                "meals_per_day": ration.meals_per_day,
                "water_ml_per_day": rounded(ration.water_ml_per_day),
                "other_methods_kcal_per_day": {
                    name: [rounded(low), rounded(high)]
                    for name, (low, high) in ration.other_methods_kcal_per_day.items()
                },
                "method": ration.method,
                "source": ration.source,
                "inputs": ration.inputs,
                "assumptions": [*ration.assumptions, *found.assumptions],
                "cautions": ration.cautions,
            }
        return json_response(dumps(shown))


def _food(uid: UUID | None, name: str, opened: Door) -> dict[str, Any] | None:
    if uid is None:
        return None
    food = selectors.foods_by_uid([uid], opened).get(uid)
    if food is None:
        raise invalid(name, "unknown", "This food is not here.")
    return food


class ForecastQuery(BaseModel, extra="forbid"):
    """`days`: 1 to 180 from today; `waste_share`: food thrown away, 0 to 0.9; `dam`: her food too."""

    days: Annotated[int, Field(ge=1, le=MOST_DAYS)] = 14
    waste_share: number(0, "0.9") = Decimal(0)  # type: ignore[valid-type]  # number() makes the type
    dam: bool = False


class FeedForecast(KennelView):
    """Food for the days to come in kg and bags, with who leaves when and what is in stock."""

    query_input = ForecastQuery
    slugs = ("validation",)
    summary_of = {"get": "Food for the days to come"}
    answer_schema = _OPEN

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """kg by day, least, likeliest and most; for ordering only."""
        query = self.query(ForecastQuery)
        with door.read(self.here, self.actor, self.at) as opened:
            found = forecast_at(
                parse_uid(uid),
                self.at,
                query.days,
                opened,
                waste_share=float(query.waste_share),
                with_dam=query.dam,
            )
        if found is None:
            raise Refusal("not-found")
        return json_response(dumps(found))


class BottleQuery(BaseModel, extra="forbid"):
    """What was found just now: `temp_c`, `is_sucking`; `milk`, `share`, `feeds_per_day` instead of the plan's."""

    at: Instant | None = None
    temp_c: number(25, 45) | None = None  # type: ignore[valid-type]  # number() makes the type
    is_sucking: bool | None = None
    milk: Uid | None = None
    share: number(0, 1) | None = None  # type: ignore[valid-type]  # number() makes the type
    feeds_per_day: Annotated[int, Field(ge=1, le=24)] | None = None


class PupBottle(KennelView):
    """Whether a pup may have milk now: temperature, then suck, only then a volume."""

    query_input = BottleQuery
    slugs = ("validation",)
    summary_of = {"get": "What to do before and with a pup's bottle"}
    answer_schema = _OPEN

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The step to take; volumes only where milk may be given."""
        query = self.query(BottleQuery)
        with door.read(self.here, self.actor, self.at) as opened:
            asked = bottles.BottleAsked(
                parse_uid(uid),
                query.at or self.at,
                None if query.temp_c is None else float(query.temp_c),
                query.is_sucking,
                _food(query.milk, "milk", opened),
                None if query.share is None else float(query.share),
                query.feeds_per_day,
            )
            found = bottles.bottles_at([asked], opened)[0]
        if found is None:
            raise Refusal("not-found")
        return json_response(dumps(bottle_json(found)))


def bottle_json(found: bottles.Bottle) -> dict[str, Any]:
    """A pup's bottle as the API answers it."""
    row, advice = found.row, found.advice
    shown: dict[str, Any] = {
        "pup": row["uid"],
        "name": row["called"],
        "at": found.asked.at,
        "age_days": found.age_days,
        "weight_g": found.weight_g,
        "weighed_at": row["weights"][0][1] if row["weights"] else None,
        "weight_is_falling": found.is_falling,
        "temp_c": found.asked.temp_c or row["temp_c"],
        "last_feed_at": row["fed_at"],
        "last_taken_ml": row["taken_ml"],
        "reason": found.reason,
        "step": None if advice is None else advice.step.value,
        "feed": None,
    }
    if advice is None:
        return shown
    if advice.plan is not None:
        plan = advice.plan
        shown["feed"] = {
            "volume_ml": rounded(plan.advised_volume_ml_per_feed),
            "feeds_per_day": plan.advised_feeds_per_day,
            "volume_ml_per_day": rounded(plan.volume_ml_per_day),
            "energy_kcal_per_day": rounded(plan.energy_kcal_per_day),
            "stomach_limit_ml": rounded(plan.stomach_limit_ml),
            "inputs": plan.inputs,
        }
    return {
        **shown,
        "reasons": advice.reasons,
        "method": advice.method,
        "source": advice.source,
        "assumptions": advice.assumptions,
        "cautions": advice.cautions,
    }
