"""Rules of meals: the plan they stand against, what does not fit, and who fed shortly before."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import connection

from feeding.rations import MealAsked, MealRation, rations_at
from feeding.services.recent import link_near
from kennel.duties.choices import ActionKind
from kennel.duties.services import completing, planning
from kennel.duties.services.completing import Done
from kennel.people.choices import Role
from kennel.records import service, store, types
from kennel.records.comparison import alike
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.service import Draft, Saved

USUAL_WARN_MINUTES = 60
FAR_FROM_PLAN = 2.0
SOAK_LOOK_BACK = timedelta(hours=13)  # the longest soak is 12 h


def meals_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in food, bowls and the plan's figures; warn, never refuse.  Four queries for any number of meals."""
    found = rations_at([MealAsked(d.input.litter, d.input.occurred_at) for d in drafts], door)
    settings = _open_plans([d.columns["litter_id"] for d in drafts], door)
    within: dict[int, timedelta] = {}
    for place, (draft, ration) in enumerate(zip(drafts, found, strict=True)):
        plan = settings.get(draft.columns["litter_id"])
        minutes = USUAL_WARN_MINUTES if plan is None else plan["warn_within_minutes"]
        within[place] = timedelta(minutes=minutes)
        if draft.before is None and plan is not None:
            if draft.input.food is None:
                draft.columns["food_id"] = plan["food_id"]
            if draft.input.bowls is None:
                draft.columns["bowls"] = plan["bowls"]
        elif draft.before is not None:
            for column, name in (("food_id", "food"), ("bowls", "bowls")):
                if name not in draft.sent:
                    draft.columns[column] = draft.before[column]
        _keep_plan(draft, ration)
        _advise(draft, ration)
    _name_strangers(drafts, door)
    link_near(
        drafts, door, table="feeding_meal", column="litter_id", within=within, what="A meal was recorded"
    )


def _open_plans(litter_ids: Sequence[int], door: Door) -> dict[int, dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT litter_id, food_id, bowls, warn_within_minutes FROM feeding_feedingplan
            WHERE kennel_id = %s AND litter_id = ANY(%s) AND ended_on IS NULL AND deleted_at IS NULL
            """,
            [door.kennel.id, sorted({one for one in litter_ids if one is not None})],
        )
        names = ("food_id", "bowls", "warn_within_minutes")
        return {litter: dict(zip(names, values, strict=True)) for litter, *values in cursor.fetchall()}


def _keep_plan(draft: Draft, ration: MealRation | None) -> None:
    """The plan's figures at the time of recording stay with the meal, so an old day gives the old answer."""
    same_time = "occurred_at" not in draft.sent and "litter" not in draft.sent
    if draft.before is not None and same_time:
        for column in ("planned_dry_g", "planned_energy_kcal"):
            draft.columns[column] = draft.before[column]
        return
    uncorrected = None if ration is None or ration.uncorrected is None else ration.uncorrected.per_meal
    draft.columns["planned_dry_g"] = None if uncorrected is None else f"{uncorrected.food_g:.1f}"
    draft.columns["planned_energy_kcal"] = None if uncorrected is None else f"{uncorrected.energy_kcal:.1f}"


def _advise(draft: Draft, ration: MealRation | None) -> None:
    meal = draft.input
    if meal.left_wet_g is not None and meal.left_wet_g > meal.dry_g + Decimal(meal.water_ml):
        draft.warn("more_left", "More came back than was offered: look at the scale again.")
    if draft.before is not None or ration is None:
        return
    if ration.ration is None:
        draft.warn("no_ration", f"No ration to compare with: {ration.reason}")
        return
    planned = ration.ration.per_meal
    if planned is not None and float(meal.dry_g) > FAR_FROM_PLAN * planned.food_g:
        draft.warn("far_above", f"More than twice the {planned.food_g:.0f} g of the plan was offered.")


def _name_strangers(drafts: Sequence[Draft], door: Door) -> None:
    """Warn about pups said to be absent that are not of this litter.  One query."""
    uids = {uid for draft in drafts for uid in draft.input.absent}
    if not uids:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, litter_id FROM litters_pup WHERE kennel_id = %s AND uid = ANY(%s::uuid[])",
            [door.kennel.id, store.array(uids)],
        )
        litter_of: dict[UUID, int] = dict(cursor.fetchall())
    for draft in drafts:
        if any(litter_of.get(uid) != draft.columns["litter_id"] for uid in draft.input.absent):
            draft.warn("not_of_litter", "A pup named as absent is not of this litter.")


def meals_follow(saved: Sequence[Saved], door: Door) -> None:
    """A recorded meal closes its duty for everybody; a deleted or moved one opens it again."""
    changed = [one for one in saved if one.before is None or _closes_otherwise(one)]
    meals = _saved_meals([one.id for one in saved], door)
    moved = {one.uid for one in changed if one.before is not None}
    completing.uncomplete("meal", sorted(moved), door)
    telling = {one.uid for one in changed}
    standing = [one for one in meals if not one["is_gone"] and UUID(one["uid"]) in telling]
    done = [
        Done(UUID(one["uid"]), "pup", UUID(pup), datetime.fromisoformat(one["occurred_at"]))
        for one in standing
        for pup in one["pups"]
    ]
    completing.complete("meal", done, door)
    _close_soaks(standing, door)
    planning.replan_later(door, subjects={("litter", UUID(one["litter"])) for one in meals})


def _closes_otherwise(saved: Saved) -> bool:
    """Whether a changed meal may stand for another duty than before: removed, brought back, other hour or litter."""
    before = saved.before or {}
    if "deleted_at" in saved.columns:
        return True
    same_time = alike(before.get("occurred_at"), saved.columns.get("occurred_at"))
    return not (same_time and before.get("litter_id") == saved.columns.get("litter_id"))


def _saved_meals(ids: Sequence[int], door: Door) -> list[dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('uid', m.uid, 'litter', l.uid, 'occurred_at', m.occurred_at,
                'is_gone', m.deleted_at IS NOT NULL OR m.possible_duplicate_of IS NOT NULL, 'pups', (
                    SELECT COALESCE(json_agg(p.uid ORDER BY p.id), '[]') FROM litters_pup p
                    WHERE p.kennel_id = m.kennel_id AND p.litter_id = m.litter_id))::text
            FROM feeding_meal m JOIN litters_litter l ON l.kennel_id = m.kennel_id AND l.id = m.litter_id
            WHERE m.kennel_id = %s AND m.id = ANY(%s) ORDER BY m.id
            """,
            [door.kennel.id, list(ids)],
        )
        return [store.load(row[0]) for row in cursor.fetchall()]


def _close_soaks(meals: Sequence[dict[str, Any]], door: Door) -> None:
    """What was eaten had been soaked: the open soak of that meal is done too, by whoever recorded the meal."""
    asked = [{"litter": one["litter"], "at": one["occurred_at"], "meal": one["uid"]} for one in meals]
    if not asked or not door.actor.may(Role.CARER):
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT ON (d.id) d.uid, a.at FROM json_to_recordset(%s) AS a (litter text, at timestamptz)
            JOIN duties_duty d ON d.kennel_id = %s AND d.kind = 'soak' AND d.state = 'open'
              AND d.deleted_at IS NULL AND d.due_at BETWEEN a.at - make_interval(secs => %s) AND a.at
              AND d.asks ->> 'litter' = a.litter
            ORDER BY d.id LIMIT 200
            """,
            [store.dump(asked), door.kennel.id, SOAK_LOOK_BACK.total_seconds()],
        )
        found = cursor.fetchall()
    action = types.by_name("duty-action")
    if not found or action is None:
        return
    taps = [
        service.NewRecord(
            place,
            new_uid(),
            service.check(
                action.input,
                {"duty": str(duty), "action": ActionKind.DONE, "occurred_at": min(at, door.at).isoformat()},
            ),
        )
        for place, (duty, at) in enumerate(found)
    ]
    for outcome in service.create(action, taps, door):
        if outcome.refusal is not None:
            raise outcome.refusal
