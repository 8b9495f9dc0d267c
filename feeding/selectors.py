"""Facts that rations stand on: the plan, the food, who is here with which weight, what came back.

Every function is one statement for any number of litters, instants and pups, inside an open door.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from feeding.domain.foods import Food
from feeding.domain.leftovers import MEALS_LOOKED_AT, MealOutcome
from kennel.records import store
from kennel.records.door import Door
from litters.selectors import AWAY

_AWAY_THEN = AWAY.replace("%(at)s", "a.known_at")


def food_json(alias: str) -> str:
    """SQL that shows a food row as `food_of` reads it; null when there is none."""
    return (
        f"CASE WHEN {alias}.id IS NULL THEN NULL ELSE json_build_object('uid', {alias}.uid, 'name', {alias}.name,"
        f" 'kind', {alias}.kind, 'kcal_per_kg', {alias}.energy_kcal_per_kg, 'energy_method', {alias}.energy_method,"
        f" 'energy_is_estimated', {alias}.energy_is_estimated, 'density_g_per_ml', {alias}.density_g_per_ml,"
        f" 'milk_kcal_per_ml', {alias}.milk_kcal_per_ml, 'bag_kg', {alias}.bag_kg) END"
    )


# One object per litter and instant asked; `known_at` is the instant up to which facts count.
_FACTS = f"""
    SELECT a.place, json_build_object(
        'id', l.id, 'uid', l.uid, 'name', l.name, 'whelped_at', l.whelped_at, 'mated_on', l.mated_on,
        'weaned_on', l.weaned_on, 'litter_adult_kg', l.expected_adult_kg,
        'dam', json_build_object('uid', dam.uid, 'name', dam.name, 'adult_kg', dam.adult_weight_kg),
        'plan', CASE WHEN plan.id IS NULL THEN NULL ELSE json_build_object(
            'uid', plan.uid, 'version', plan.version, 'method', plan.method, 'missing_weight', plan.missing_weight,
            'expected_adult_kg', plan.expected_adult_kg, 'stages', plan.stages, 'soak_minutes', plan.soak_minutes,
            'bowls', plan.bowls, 'stale_after_days', plan.stale_after_days,
            'dam_meals_per_day', plan.dam_meals_per_day) END,
        'food', {food_json("food")}, 'dam_food', {food_json("dam_food")},
        'pups', pups.list, 'meals', meals.list)::text
    FROM json_to_recordset(%(asked)s) AS a (place int, litter uuid, known_at timestamptz, day date)
    JOIN litters_litter l ON l.kennel_id = %(kennel)s AND l.uid = a.litter
    JOIN litters_dog dam ON dam.kennel_id = l.kennel_id AND dam.id = l.dam_id
    LEFT JOIN LATERAL (
        SELECT f.* FROM feeding_feedingplan f
        WHERE f.kennel_id = l.kennel_id AND f.litter_id = l.id AND f.deleted_at IS NULL
          AND (f.ended_on IS NULL OR f.ended_on > a.day)
        ORDER BY f.ended_on NULLS LAST, f.id DESC LIMIT 1
    ) plan ON true
    LEFT JOIN feeding_food food ON food.kennel_id = plan.kennel_id AND food.id = plan.food_id
    LEFT JOIN feeding_food dam_food ON dam_food.kennel_id = plan.kennel_id AND dam_food.id = plan.dam_food_id
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_object('uid', here.uid, 'called', here.called, 'rearing', here.rearing,
            'born_at', here.born_at, 'weight_g', here.weight_g, 'weighed_at', here.weighed_at)
            ORDER BY here.birth_order NULLS LAST, here.id), '[]') AS list
        FROM (
            SELECT p.id, p.uid, p.birth_order, p.rearing, p.born_at, w.weight_g, w.occurred_at AS weighed_at,
                COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0)) AS called
            FROM litters_pup p
            LEFT JOIN LATERAL (
                SELECT weight_g, occurred_at FROM litters_weighing w
                WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id AND w.deleted_at IS NULL
                  AND w.occurred_at <= a.known_at
                ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1
            ) w ON true
            WHERE p.kennel_id = l.kennel_id AND p.litter_id = l.id AND p.deleted_at IS NULL
              AND p.born_at <= a.known_at AND p.fate <> 'stillborn' AND (p.died_at IS NULL OR p.died_at > a.known_at)
              AND NOT (p.fate = 'died' AND p.died_at IS NULL) AND NOT {_AWAY_THEN}
            LIMIT 60
        ) here
    ) pups
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_array(m.planned_dry_g, m.dry_g, m.dry_g + m.water_ml, m.left_wet_g)
            ORDER BY m.occurred_at, m.id), '[]') AS list
        FROM (
            SELECT m.* FROM feeding_meal m
            WHERE m.kennel_id = l.kennel_id AND m.litter_id = l.id AND m.deleted_at IS NULL
              AND m.possible_duplicate_of IS NULL AND m.occurred_at <= a.known_at
              AND m.left_wet_g IS NOT NULL AND m.planned_dry_g > 0 AND m.dry_g > 0
              AND m.left_wet_g <= m.dry_g + m.water_ml
            ORDER BY m.occurred_at DESC, m.id DESC LIMIT {MEALS_LOOKED_AT}
        ) m
    ) meals
    ORDER BY a.place
"""  # noqa: S608 - constants of this module and of litters.selectors


@dataclass(frozen=True)
class PupHere:
    """A pup that is here: what people call it (unique in its litter), how it is reared, its newest weight."""

    uid: UUID
    called: str
    rearing: str
    born_at: datetime
    weight_g: float | None
    weighed_at: datetime | None


@dataclass(frozen=True)
class LitterFacts:
    """What is known of one litter at one instant; `row` holds the plan's and the litter's own columns."""

    uid: UUID
    name: str
    whelped_at: datetime | None
    row: dict[str, Any]
    pups: tuple[PupHere, ...]
    meals: tuple[MealOutcome, ...]

    @property
    def plan(self) -> dict[str, Any] | None:
        """The feeding plan in force, as data."""
        found: dict[str, Any] | None = self.row["plan"]
        return found


@dataclass(frozen=True)
class Ask:
    """A litter, the instant up to which facts count, and the kennel-local day the plan must cover."""

    litter: UUID
    known_at: datetime
    day: date


def litter_facts(asked: Sequence[Ask], door: Door) -> list[LitterFacts | None]:
    """Facts of each litter and instant, in order; None for a litter that is not in this kennel.  One query."""
    distinct = list(dict.fromkeys(asked))
    if not distinct:
        return []
    rows = [
        {"place": place, "litter": one.litter, "known_at": one.known_at, "day": one.day}
        for place, one in enumerate(distinct)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_FACTS, {"asked": store.dump(rows), "kennel": door.kennel.id})
        found = {distinct[place]: _facts(store.load(text)) for place, text in cursor.fetchall()}
    return [found.get(one) for one in asked]


def _facts(row: dict[str, Any]) -> LitterFacts:
    return LitterFacts(
        UUID(row["uid"]),
        row["name"],
        instant(row["whelped_at"]),
        row,
        tuple(_pups(row["pups"])),
        tuple(MealOutcome(*(float(g) for g in meal)) for meal in row["meals"]),
    )


def _pups(rows: Sequence[dict[str, Any]]) -> list[PupHere]:
    """Pups by names that differ: two without band and name are told apart by a number."""
    seen: dict[str, int] = {}
    pups = []
    for row in rows:
        called = row["called"]
        seen[called] = seen.get(called, 0) + 1
        if seen[called] > 1:
            called = f"{called} ({seen[called]})"
        pups.append(
            PupHere(
                UUID(row["uid"]),
                called,
                row["rearing"],
                datetime.fromisoformat(row["born_at"]),
                None if row["weight_g"] is None else float(row["weight_g"]),
                instant(row["weighed_at"]),
            )
        )
    return pups


def instant(text: str | None) -> datetime | None:
    """An instant of a JSON row."""
    return None if text is None else datetime.fromisoformat(text)


def food_of(row: dict[str, Any]) -> Food:
    """The domain's food from a `food_json` object; needs its energy."""
    label = {"printed": "printed by the maker", "atwater": "modified Atwater"}[row["energy_method"]]
    estimated = ", ash assumed" if row["energy_is_estimated"] else ""
    density = row["density_g_per_ml"]
    return Food(
        row["name"],
        float(row["kcal_per_kg"]),
        label + estimated,
        row["kind"] == "dry",
        None if density is None else float(density),
    )


def foods_by_uid(uids: Sequence[UUID], door: Door) -> dict[UUID, dict[str, Any]]:
    """`food_json` objects of foods of this kennel that are not deleted.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT f.uid, ({food_json('f')})::text FROM feeding_food f"  # noqa: S608 - a constant of this module
            " WHERE f.kennel_id = %s AND f.uid = ANY(%s::uuid[]) AND f.deleted_at IS NULL",
            [door.kennel.id, store.array(uids)],
        )
        return {uid: store.load(text) for uid, text in cursor.fetchall()}
