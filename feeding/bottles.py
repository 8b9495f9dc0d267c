"""Whether and how much milk each pup may have now: facts of many pups put before `domain.bottle_advice`."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from feeding.choices import MilkNeed
from feeding.domain import milk
from feeding.domain.bottle_advice import TEMPERATURE_IS_FRESH_FOR, BottleAdvice, PupState, bottle_advice
from feeding.rations import age_on
from feeding.selectors import food_json, instant
from kennel.records import store
from kennel.records.door import Door

# Newest weight and the one before, newest temperature (also one read before a bottle), newest feed, the plan.
_PUPS = f"""
    SELECT a.place, json_build_object(
        'uid', p.uid, 'called', COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0)),
        'born_at', p.born_at, 'rearing', p.rearing, 'litter', l.uid, 'weights', weights.list,
        'temp_c', warmth.temp_c, 'temp_at', warmth.at, 'fed_at', fed.occurred_at, 'is_sucking', fed.is_sucking,
        'taken_ml', fed.taken_ml, 'milk', {food_json("food")}, 'milk_need', plan.milk_need,
        'topped_up_share', plan.topped_up_share, 'every_minutes', plan.bottle_every_minutes)::text
    FROM json_to_recordset(%(asked)s) AS a (place int, pup uuid, at timestamptz)
    JOIN litters_pup p ON p.kennel_id = %(kennel)s AND p.uid = a.pup AND p.deleted_at IS NULL
    JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
    LEFT JOIN feeding_feedingplan plan ON plan.kennel_id = l.kennel_id AND plan.litter_id = l.id
        AND plan.ended_on IS NULL AND plan.deleted_at IS NULL
    LEFT JOIN feeding_food food ON food.kennel_id = plan.kennel_id AND food.id = plan.milk_id
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_array(w.weight_g, w.occurred_at) ORDER BY w.occurred_at DESC, w.id DESC),
            '[]') AS list
        FROM (SELECT * FROM litters_weighing w
              WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id AND w.deleted_at IS NULL AND w.occurred_at <= a.at
              ORDER BY w.occurred_at DESC, w.id DESC LIMIT 2) w
    ) weights
    LEFT JOIN LATERAL (
        SELECT r.temp_c, r.at FROM (
            (SELECT t.temp_c, t.occurred_at AS at FROM litters_temperature t
             WHERE t.kennel_id = p.kennel_id AND t.pup_id = p.id AND t.deleted_at IS NULL AND t.occurred_at <= a.at
             ORDER BY t.occurred_at DESC LIMIT 1)
            UNION ALL
            (SELECT b.temp_c, b.occurred_at FROM feeding_bottlefeed b
             WHERE b.kennel_id = p.kennel_id AND b.pup_id = p.id AND b.deleted_at IS NULL AND b.temp_c IS NOT NULL
               AND b.occurred_at <= a.at ORDER BY b.occurred_at DESC LIMIT 1)
        ) r ORDER BY r.at DESC LIMIT 1
    ) warmth ON true
    LEFT JOIN LATERAL (
        SELECT b.occurred_at, b.is_sucking, b.taken_ml FROM feeding_bottlefeed b
        WHERE b.kennel_id = p.kennel_id AND b.pup_id = p.id AND b.deleted_at IS NULL AND b.occurred_at <= a.at
        ORDER BY b.occurred_at DESC, b.id DESC LIMIT 1
    ) fed ON true
    ORDER BY a.place
"""  # noqa: S608 - constants of this module


@dataclass(frozen=True)
class BottleAsked:
    """A pup and the instant of the feed; what the asker found just now outranks what was recorded."""

    pup: UUID
    at: datetime
    temp_c: float | None = None
    is_sucking: bool | None = None
    milk: dict[str, Any] | None = None
    share: float | None = None
    feeds_per_day: int | None = None


@dataclass(frozen=True)
class Bottle:
    """The advice for a pup, or the reason why none can be reckoned.  row: the facts it stands on."""

    asked: BottleAsked
    row: dict[str, Any]
    age_days: int
    advice: BottleAdvice | None
    reason: str = ""

    @property
    def weight_g(self) -> float | None:
        """The newest weight in g."""
        weights = self.row["weights"]
        return float(weights[0][0]) if weights else None

    @property
    def is_falling(self) -> bool:
        """Whether the newest weight is below the one before."""
        weights = self.row["weights"]
        return len(weights) > 1 and weights[0][0] < weights[1][0]


def bottles_at(asked: Sequence[BottleAsked], door: Door) -> list[Bottle | None]:
    """Advice for each pup, in order; None for a pup that is not in this kennel.  One query."""
    rows = [{"place": place, "pup": one.pup, "at": one.at} for place, one in enumerate(asked)]
    if not rows:
        return []
    with connection.cursor() as cursor:
        cursor.execute(_PUPS, {"asked": store.dump(rows), "kennel": door.kennel.id})
        found = {place: store.load(text) for place, text in cursor.fetchall()}
    return [
        _bottle(one, found[place], door.kennel.zone) if place in found else None
        for place, one in enumerate(asked)
    ]


def _bottle(asked: BottleAsked, row: dict[str, Any], zone: str) -> Bottle:
    age_days = max(0, age_on(datetime.fromisoformat(row["born_at"]), asked.at, zone))
    bare = Bottle(asked, row, age_days, None)
    reason = _why_not(bare)
    if reason:
        return Bottle(asked, row, age_days, None, reason)
    milk_row = asked.milk or row["milk"]
    key = row["milk_need"] or MilkNeed.NRC
    weight_g = bare.weight_g
    assert weight_g is not None
    plan = milk.bottle_plan(
        weight_g,
        milk.milk_need_kcal_per_100_g(key, age_days),
        float(milk_row["milk_kcal_per_ml"]),
        asked.feeds_per_day or _feeds_per_day(row, age_days),
        bottle_share=_share(asked, row),
        need_source=milk.MILK_NEEDS[key].source,
    )
    temp_c, temp_at = _temperature(asked, row)
    state = PupState(age_days, temp_c, temp_at, asked.is_sucking, is_under_watch=bare.is_falling)
    return Bottle(asked, row, age_days, bottle_advice(state, plan, asked.at))


def _temperature(asked: BottleAsked, row: dict[str, Any]) -> tuple[float | None, datetime | None]:
    if asked.temp_c is not None:
        return asked.temp_c, asked.at
    return (None if row["temp_c"] is None else float(row["temp_c"])), instant(row["temp_at"])


def _why_not(bottle: Bottle) -> str:
    """Why nothing can be reckoned for this pup, in words; empty when it can."""
    asked, row = bottle.asked, bottle.row
    if bottle.age_days >= 28:
        return "The published milk tables end with day 27."
    if bottle.weight_g is None:
        return "No weight is known: weigh first."
    milk_row = asked.milk or row["milk"]
    if milk_row is None or milk_row["milk_kcal_per_ml"] is None:
        return "No milk replacer is chosen in the feeding plan."
    if row["rearing"] != "hand_fed" and asked.share is None and row["topped_up_share"] is None:
        return "It sucks from the dam: set in the feeding plan which share of its need comes by bottle."
    return ""


def _share(asked: BottleAsked, row: dict[str, Any]) -> float:
    if asked.share is not None:
        return asked.share
    return 1.0 if row["rearing"] == "hand_fed" else float(row["topped_up_share"])


def _feeds_per_day(row: dict[str, Any], age_days: int) -> int:
    if row["every_minutes"]:
        return min(24, max(1, round(1440 / int(row["every_minutes"]))))
    return milk.usual_feeds_per_day(age_days)


def is_temperature_fresh(bottle: Bottle) -> bool:
    """Whether a temperature of the last two hours is known."""
    temp_c, temp_at = _temperature(bottle.asked, bottle.row)
    return temp_c is not None and (temp_at is None or bottle.asked.at - temp_at <= TEMPERATURE_IS_FRESH_FOR)
