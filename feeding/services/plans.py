"""Rules of feeding plans, and the routines that follow from them."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from feeding.choices import FoodKind
from kennel.clock.wall_clock import instant_of, local_day
from kennel.duties.services import planning, routines
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft, Saved

PLAN = "feeding-plan"
LAST_DAY = 730  # a litter has long gone by then; routines need some end


def plans_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Refuse replacer in bowls and bowl food in bottles.  One query."""
    uids = {
        uid
        for draft in drafts
        for uid in (draft.input.food, draft.input.dam_food, draft.input.milk)
        if uid is not None
    }
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, kind FROM feeding_food WHERE kennel_id = %s AND uid = ANY(%s::uuid[])",
            [door.kennel.id, store.array(uids)],
        )
        kinds: dict[UUID, str] = dict(cursor.fetchall())
    for draft in drafts:
        for name in ("food", "dam_food"):
            if kinds.get(getattr(draft.input, name)) == FoodKind.REPLACER:
                draft.refuse(invalid(name, "kind", "Milk replacer goes into bottles, not into bowls."))
        if draft.input.milk is not None and kinds.get(draft.input.milk) != FoodKind.REPLACER:
            draft.refuse(invalid("milk", "kind", "Only a milk replacer goes into bottles."))


def plans_follow(saved: Sequence[Saved], door: Door) -> None:
    """Make the routines those of the plans written, and plan them anew with their figures."""
    plan_ids_follow([one.id for one in saved], door)


def litters_follow(saved: Sequence[Saved], door: Door) -> None:
    """A litter was born, corrected or closed: its plans count their days from there."""
    if not saved:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id FROM feeding_feedingplan WHERE kennel_id = %s AND litter_id = ANY(%s) ORDER BY id LIMIT 1000",
            [door.kennel.id, [one.id for one in saved]],
        )
        plan_ids_follow([row[0] for row in cursor.fetchall()], door)


def plan_ids_follow(plan_ids: Sequence[int], door: Door) -> None:
    """The routines of these plans.  Plans are written one at a time by people, so each is set by itself."""
    if not plan_ids:
        return
    plans = _plans(plan_ids, door)
    for plan in plans:
        wanted = {} if plan["has_ended"] else routines_wanted(plan, door.kennel.zone)
        routines.routines_set(PLAN, UUID(plan["uid"]), wanted, door)
    # Food, method or weights to use may have changed although no routine did.
    sources = [(PLAN, UUID(plan["uid"])) for plan in plans]
    planning.replan(planning.routines_of(door, sources=sources), door)


def _plans(plan_ids: Sequence[int], door: Door) -> list[dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('uid', f.uid, 'stages', f.stages, 'soak_minutes', f.soak_minutes,
                'food_kind', food.kind, 'bottle_every_minutes', f.bottle_every_minutes, 'ended_on', f.ended_on,
                'bottle_until_day', f.bottle_until_day, 'litter', l.uid, 'whelped_at', l.whelped_at,
                'closed_on', l.closed_on, 'recorded_at', f.recorded_at,
                'has_ended', f.deleted_at IS NOT NULL OR l.deleted_at IS NOT NULL OR l.whelped_at IS NULL)::text
            FROM feeding_feedingplan f
            JOIN litters_litter l ON l.kennel_id = f.kennel_id AND l.id = f.litter_id
            JOIN feeding_food food ON food.kennel_id = f.kennel_id AND food.id = f.food_id
            WHERE f.kennel_id = %s AND f.id = ANY(%s) ORDER BY f.id
            """,
            [door.kennel.id, list(plan_ids)],
        )
        return [store.load(row[0]) for row in cursor.fetchall()]


def routines_wanted(plan: Mapping[str, Any], zone: str) -> dict[str, dict[str, Any]]:
    """Routines of a plan by key: for each stage its meals and their soaks, and the bottle round.

    A soak that begins before midnight for a meal after it runs a day earlier.
    """
    born_on = local_day(datetime.fromisoformat(plan["whelped_at"]), zone)
    wanted: dict[str, dict[str, Any]] = {}
    stages = plan["stages"]
    until = [one["from_day"] - 1 for one in stages[1:]] + [LAST_DAY]
    for stage, last_day in zip(stages, until, strict=True):
        first_day = int(stage["from_day"])
        times = sorted(stage["wall_times"])
        common = _common(plan, born_on, zone)
        wanted[f"meal:{first_day}"] = {
            **common,
            "kind": "meal",
            **_daily(times, born_on, first_day, last_day),
        }
        is_soaked = stage["soak"] is not None or stage["one_soaked_meal"]
        if not is_soaked or not plan["soak_minutes"] or plan["food_kind"] != FoodKind.DRY:
            continue
        soaked_times = times if stage["soak"] is not None else times[:1]
        by_shift: dict[int, list[str]] = {}
        for text in soaked_times:
            shift, wall = earlier(time.fromisoformat(text), plan["soak_minutes"])
            by_shift.setdefault(shift, []).append(wall.isoformat("minutes"))
        for shift, walls in by_shift.items():
            wanted[f"soak:{first_day}:{shift}"] = {
                **common,
                "kind": "soak",
                "settings": {"minutes": plan["soak_minutes"]},
                "useful_for_s": plan["soak_minutes"] * 60,
                **_daily(walls, born_on, max(0, first_day - shift), last_day - shift),
            }
    if plan["bottle_every_minutes"]:
        wanted["bottle-round"] = {
            **_common(plan, born_on, zone),
            "kind": "bottle-round",
            "rule": {
                "kind": "every",
                "interval_s": plan["bottle_every_minutes"] * 60,
                "anchor_at": plan["recorded_at"],
            },
            "day_zero_on": born_on.isoformat(),
            "from_age_days": 0,
            "until_age_days": plan["bottle_until_day"],
        }
    return wanted


def earlier(meal_time: time, minutes: int) -> tuple[int, time]:
    """The wall time so many minutes before, and how many days earlier that is (0 or 1)."""
    begins = meal_time.hour * 60 + meal_time.minute - minutes
    return (0 if begins >= 0 else 1), time(begins % 1440 // 60, begins % 60)


def _common(plan: Mapping[str, Any], born_on: date, zone: str) -> dict[str, Any]:
    ends = [date.fromisoformat(day) for day in (plan["ended_on"], plan["closed_on"]) if day]
    end = max(min(ends), born_on + timedelta(days=1)) if ends else None
    return {
        "subject_type": "litter",
        "subject_uid": plan["litter"],
        "ends_at": instant_of(end, time.min, zone).isoformat() if end else None,
    }


def _daily(times: Sequence[str], born_on: date, first_day: int, last_day: int) -> dict[str, Any]:
    return {
        "rule": {
            "kind": "at",
            "rrule": "FREQ=DAILY",
            "wall_times": list(times),
            "first_on": (born_on + timedelta(days=first_day)).isoformat(),
        },
        "day_zero_on": born_on.isoformat(),
        "from_age_days": first_day,
        "until_age_days": last_day,
    }
