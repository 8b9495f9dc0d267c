"""What the pages show of foods, plans and meals: rows as the API shows them, inside an open door."""

from typing import Any
from uuid import UUID

from feeding.registrations import FEEDING_PLAN, FOOD, MEAL
from kennel.records import door, store
from kennel.records.types import RecordType
from kennel.web.base import KennelPage

Row = dict[str, Any]
MOST_FOODS, MOST_MEALS = 200, 12


def foods(kennel_id: int) -> list[Row]:
    """Foods by name, those in use first.  One query."""
    page = store.show_page(FOOD, kennel_id, limit=MOST_FOODS, where="AND t.deleted_at IS NULL")
    rows: list[Row] = [store.load(text) for text in page.rows]
    return sorted(rows, key=lambda food: (not food["in_use"], food["name"].lower()))


def plan_of(kennel_id: int, litter: UUID) -> Row | None:
    """The open feeding plan of a litter.  One query."""
    page = store.show_page(
        FEEDING_PLAN,
        kennel_id,
        limit=1,
        where=(
            "AND t.deleted_at IS NULL AND t.ended_on IS NULL AND t.litter_id ="
            " (SELECT id FROM litters_litter WHERE kennel_id = t.kennel_id AND uid = %s)"
        ),
        values=[litter],
    )
    return store.load(page.rows[0]) if page.rows else None


def meals_of(kennel_id: int, litter: UUID) -> list[Row]:
    """The newest meals of a litter, newest first.  One query."""
    page = store.show_page(
        MEAL,
        kennel_id,
        limit=MOST_MEALS,
        where=(
            "AND t.deleted_at IS NULL AND t.litter_id ="
            " (SELECT id FROM litters_litter WHERE kennel_id = t.kennel_id AND uid = %s)"
        ),
        values=[litter],
    )
    return [store.load(text) for text in page.rows]


def food_choices(rows: list[Row], *, milk: bool, kept: str | None = None) -> list[tuple[str, str]]:
    """Foods for a choice: replacers, or what goes into bowls; `kept` stays although no longer in use."""
    return [
        (food["uid"], food["name"])
        for food in rows
        if (food["kind"] == "replacer") == milk and (food["in_use"] or food["uid"] == kept)
    ]


def moment_of(page: KennelPage, record_type: RecordType, uid: str, data: Row) -> Row:
    """The data with the instant of saving, when nobody chose another than the one the page was opened at.

    A form that is sent twice keeps the instant it was stored with, so that pressing twice makes one record.
    """
    post = page.request.POST
    if post.get("occurred_at", "") != post.get("opened_at", ""):
        return data
    with door.read(page.here, page.actor, page.at):
        known = store.current_rows(record_type, [UUID(uid)], page.here.id).get(UUID(uid))
    return data | {"occurred_at": page.at.isoformat() if known is None else known["occurred_at"]}
