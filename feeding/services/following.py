"""What lies ahead follows the facts: departures, weights and changes of food plan the duties anew."""

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.db import connection

from kennel.duties.services import planning
from kennel.records.door import Door
from kennel.records.service import Saved

_BOWLS_AND_BOTTLES = ("soak", "meal", "bottle-round")


def presence_follows(saved: Sequence[Saved], door: Door) -> None:
    """Pups left or came back: the next bowls change at once."""
    _replan(_litters_of_pups(_pup_ids(saved), door), door)


def pups_follow(saved: Sequence[Saved], door: Door) -> None:
    """Pups were born, died, or are reared otherwise: the next bowls and bottles change at once."""
    former = {
        one.before["litter_id"]
        for one in saved
        if one.before and "litter_id" in one.columns and one.before["litter_id"] != one.columns["litter_id"]
    }
    _replan([*_litters_of_pups([one.id for one in saved], door), *_litter_uids(former, door)], door)


def foods_follow(saved: Sequence[Saved], door: Door) -> None:
    """A food's energy was corrected: the litters that get it."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT f.uid FROM feeding_feedingplan f WHERE f.kennel_id = %s AND f.deleted_at IS NULL"
            " AND (f.food_id = ANY(%s) OR f.milk_id = ANY(%s)) LIMIT 1000",
            [door.kennel.id, [one.id for one in saved], [one.id for one in saved]],
        )
        plans = [row[0] for row in cursor.fetchall()]
    planning.replan_later(door, sources=[("feeding-plan", uid) for uid in plans])


def _replan(litters: Iterable[UUID], door: Door) -> None:
    """Bowls and bottles now; whatever else is due for these litters follows with the next tick, outside this write."""
    subjects = [("litter", uid) for uid in set(litters)]
    planning.replan_later(door, subjects=subjects)
    planning.replan(planning.routines_of(door, subjects=subjects, of_kinds=_BOWLS_AND_BOTTLES), door)


def _pup_ids(saved: Sequence[Saved]) -> list[int]:
    found = {
        columns["pup_id"]
        for one in saved
        for columns in (one.columns, one.before or {})
        if columns.get("pup_id") is not None
    }
    return sorted(found)


def _litters_of_pups(pup_ids: Sequence[int], door: Door) -> list[UUID]:
    if not pup_ids:
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT l.uid FROM litters_pup p
            JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            WHERE p.kennel_id = %s AND p.id = ANY(%s)
            """,
            [door.kennel.id, list(pup_ids)],
        )
        return [row[0] for row in cursor.fetchall()]


def _litter_uids(ids: set[int], door: Door) -> list[UUID]:
    if not ids:
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid FROM litters_litter WHERE kennel_id = %s AND id = ANY(%s)",
            [door.kennel.id, sorted(ids)],
        )
        return [row[0] for row in cursor.fetchall()]
