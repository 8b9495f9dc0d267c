"""Rules of bottle feeds: advice stays beside the fact, the fact always stands."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection

from feeding.bottles import Bottle, BottleAsked, bottles_at, is_temperature_fresh
from feeding.domain.bottle_advice import MEASURED_ALWAYS_BEFORE_DAY, cold_line_c
from feeding.domain.milk import stomach_limit_ml
from feeding.services.recent import link_near
from kennel.duties.services import completing
from kennel.duties.services.completing import Done
from kennel.records.comparison import alike
from kennel.records.door import Door
from kennel.records.service import Draft, Saved
from litters.services.presence import warn_absent

NEAR = timedelta(minutes=45)  # common practice, no source: bottles lie at least 2 h apart


def bottle_feeds_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in the plan's milk; warn about cold pups, large volumes and a feed shortly before.  Four queries."""
    asked = [
        BottleAsked(
            d.input.pup,
            d.input.occurred_at,
            None if d.input.temp_c is None else float(d.input.temp_c),
            d.input.is_sucking,
        )
        for d in drafts
    ]
    for draft, bottle in zip(drafts, bottles_at(asked, door), strict=True):
        if bottle is not None:
            _advise(draft, bottle)
    _fill_milk(drafts, door)
    warn_absent(drafts, door)
    within = dict.fromkeys(range(len(drafts)), NEAR)
    link_near(drafts, door, table="feeding_bottlefeed", column="pup_id", within=within, what="It was fed")


def _advise(draft: Draft, bottle: Bottle) -> None:
    feed = draft.input
    line_c = cold_line_c(bottle.age_days)
    temp_c = bottle.asked.temp_c
    if temp_c is None and is_temperature_fresh(bottle):
        temp_c = float(bottle.row["temp_c"])
    if temp_c is not None and temp_c < line_c:
        draft.warn(
            "cold",
            f"{temp_c:.1f} °C was below {line_c:.1f} °C for its age: no milk to a chilled pup, by bottle or tube."
            " Warm it slowly, ring the vet.",
        )
    elif temp_c is None and bottle.age_days < MEASURED_ALWAYS_BEFORE_DAY:
        draft.warn("no_temperature", "No fresh temperature was known: temperature first, then milk.")
    if feed.is_sucking is False and not feed.by_tube:
        draft.warn("not_sucking", "It did not suck: no bottle to a pup without its suck; ring the vet.")
    if bottle.weight_g is not None:
        limit_ml = stomach_limit_ml(bottle.weight_g)
        if float(feed.taken_ml) > limit_ml:
            draft.warn(
                "over_stomach_limit",
                f"More than the {limit_ml:.1f} mL its stomach holds (4 mL per 100 g): rather more feeds.",
            )
    if feed.offered_ml is not None and feed.taken_ml > feed.offered_ml:
        draft.warn("more_taken", "More was taken than was offered: look at the bottle again.")


def _fill_milk(drafts: Sequence[Draft], door: Door) -> None:
    """The milk of the plan where none is named.  One query."""
    open_ones = [d for d in drafts if d.before is None and d.input.milk is None and d.columns.get("pup_id")]
    for draft in drafts:
        if draft.before is not None and "milk" not in draft.sent:
            draft.columns["milk_id"] = draft.before["milk_id"]
    if not open_ones:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT p.id, f.milk_id FROM litters_pup p
            JOIN feeding_feedingplan f ON f.kennel_id = p.kennel_id AND f.litter_id = p.litter_id
              AND f.ended_on IS NULL AND f.deleted_at IS NULL
            WHERE p.kennel_id = %s AND p.id = ANY(%s)
            """,
            [door.kennel.id, [d.columns["pup_id"] for d in open_ones]],
        )
        milk_of: dict[int, int | None] = dict(cursor.fetchall())
    for draft in open_ones:
        draft.columns["milk_id"] = milk_of.get(draft.columns["pup_id"])


def bottle_feeds_follow(saved: Sequence[Saved], door: Door) -> None:
    """A feed settles its pup in the bottle round; a deleted or moved one takes that back."""
    changed = [one for one in saved if one.before is None or _moved(one)]
    completing.uncomplete("bottle-feed", [one.uid for one in changed if one.before is not None], door)
    if not changed:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT b.uid, p.uid, b.occurred_at FROM feeding_bottlefeed b
            JOIN litters_pup p ON p.kennel_id = b.kennel_id AND p.id = b.pup_id
            WHERE b.kennel_id = %s AND b.id = ANY(%s) AND b.deleted_at IS NULL
              AND b.possible_duplicate_of IS NULL ORDER BY b.id
            """,
            [door.kennel.id, [one.id for one in changed]],
        )
        found: list[tuple[UUID, UUID, datetime]] = cursor.fetchall()
    completing.complete("bottle-feed", [Done(uid, "pup", pup, at) for uid, pup, at in found], door)


def _moved(saved: Saved) -> bool:
    before = saved.before or {}
    if "deleted_at" in saved.columns:
        return True
    same_time = alike(before.get("occurred_at"), saved.columns.get("occurred_at"))
    return not (same_time and before.get("pup_id") == saved.columns.get("pup_id"))
