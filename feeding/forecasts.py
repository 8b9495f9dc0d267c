"""Food for the days to come, from the facts of the kennel: who stays how long, what is in stock."""

from dataclasses import asdict
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from feeding import selectors
from feeding.dams import SUCKING, dam_to_feed
from feeding.domain.forecast import FeedForecast, feed_forecast
from feeding.domain.pup_needs import PupMethod
from feeding.ration_json import food_shown
from feeding.rations import NO_PLAN, NO_PUPS, NOT_BORN, pups_to_feed
from feeding.registrations import FOOD
from feeding.selectors import Ask, LitterFacts
from feeding.stage_data import stages_of
from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import Door


def forecast_at(
    litter: UUID, at: datetime, days: int, door: Door, *, waste_share: float = 0.0, with_dam: bool = False
) -> dict[str, Any] | None:
    """The forecast of a litter for `days` days as JSON; None for a litter not in this kennel.  Four queries.

    Pups booked to leave are gone from that day on.  with_dam: her food too, when she gets the same.
    """
    first_on = local_day(at, door.kennel.zone)
    facts = selectors.litter_facts([Ask(litter, min(at, door.at), first_on)], door)[0]
    if facts is None:
        return None
    shown: dict[str, Any] = {"litter": facts.uid, "from": first_on, "day_count": days}
    reason = _why_not(facts)
    if reason or facts.plan is None:
        return {**shown, "reason": reason}
    food = facts.row["food"]
    pups, assumptions = pups_to_feed(facts, at, door.kennel.zone)
    dam = None
    notes = list(assumptions)
    if with_dam:
        sucking = sum(pup.rearing in SUCKING for pup in facts.pups)
        dam, said = dam_to_feed(facts, at, sucking, door)
        notes += said
        if facts.row["dam_food"] is not None and facts.row["dam_food"]["uid"] != food["uid"]:
            dam = None
            notes.append("The dam gets another food and is not counted here.")
    stock_g = _stock_g(UUID(food["uid"]), door)
    found = feed_forecast(
        pups,
        selectors.food_of(food),
        stages_of(facts.plan["stages"]),
        PupMethod(facts.plan["method"]),
        at,
        first_on,
        days,
        dam=dam,
        leaving_on=_leaving_on(facts, door),
        waste_share=waste_share,
        stock_kg=max(0.0, stock_g or 0.0) / 1000,
        bag_kg=None if food["bag_kg"] is None else float(food["bag_kg"]),
    )
    if stock_g is None:
        notes.append("No stock is entered: reckoned as none.")
    return {**shown, "reason": "", "food": food_shown(food), "stock_g": stock_g, **_json(found, notes)}


def _why_not(facts: LitterFacts) -> str:
    if facts.whelped_at is None:
        return NOT_BORN
    if facts.plan is None:
        return NO_PLAN
    return "" if facts.pups else NO_PUPS


def _leaving_on(facts: LitterFacts, door: Door) -> dict[str, date]:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT p.uid, min(b.leaves_on) FROM litters_booking b
            JOIN litters_pup p ON p.kennel_id = b.kennel_id AND p.id = b.pup_id
            WHERE b.kennel_id = %s AND p.uid = ANY(%s::uuid[]) AND b.deleted_at IS NULL AND b.ended_on IS NULL
              AND b.leaves_on IS NOT NULL GROUP BY p.uid
            """,
            [door.kennel.id, store.array([pup.uid for pup in facts.pups])],
        )
        leaving: dict[UUID, date] = dict(cursor.fetchall())
    return {pup.called: leaving[pup.uid] for pup in facts.pups if pup.uid in leaving}


def _stock_g(food: UUID, door: Door) -> float | None:
    text = store.show(FOOD, door.kennel.id, [food])[food].text
    stock_g = store.load(text)["stock_g"]
    return None if stock_g is None else float(stock_g)


def _json(found: FeedForecast, notes: list[str]) -> dict[str, Any]:
    days = [
        {
            "on": one.on,
            "low_g": round(one.low_g),
            "likely_g": round(one.likely_g),
            "high_g": round(one.high_g),
        }
        for one in found.days
    ]
    return {
        "days": days,
        "low_kg": round(found.low_kg, 2),
        "likely_kg": round(found.likely_kg, 2),
        "high_kg": round(found.high_kg, 2),
        "bags_to_buy": found.bags_to_buy,
        "bags_to_be_safe": found.bags_to_be_safe,
        "stock_runs_out_on": found.stock_runs_out_on,
        "left_out": [asdict(one) for one in found.left_out],
        "method": found.method,
        "source": found.source,
        "inputs": found.inputs,
        "assumptions": [*found.assumptions, *notes],
        "cautions": found.cautions,
    }
