"""What the pages show of dogs, litters, pups and weights: rows as the API shows them, inside an open door.

Every function makes one query whatever the number of animals, and none is unbounded.
"""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.db import connection
from django.http import Http404

from kennel.records import history, store
from kennel.records.models import Journal
from kennel.records.types import RecordType
from litters.registrations import DOG, GROWTH_TABLE, LITTER, PUP, WEIGHING
from litters.services.growth_tables import MOST_TABLES

Row = dict[str, Any]
MOST_LITTERS, MOST_DOGS, MOST_PUPS, WEIGHINGS_A_PAGE = 60, 200, 400, 60


def row(record_type: RecordType, kennel_id: int, uid: UUID) -> Row:
    """One record, deleted ones too.  Raises Http404 when it is not in this kennel."""
    found = store.show(record_type, kennel_id, [uid])
    if uid not in found:
        raise Http404
    loaded: Row = store.load(found[uid].text)
    return loaded


def rows_by_uid(record_type: RecordType, kennel_id: int, uids: Iterable[str | None]) -> dict[str, Row]:
    """Records by uid; those that are not here are missing from the answer."""
    wanted = [UUID(uid) for uid in {uid for uid in uids if uid}]
    if not wanted:
        return {}
    found = store.show(record_type, kennel_id, wanted)
    return {str(uid): store.load(shown.text) for uid, shown in found.items()}


def _page(
    record_type: RecordType, kennel_id: int, limit: int, where: str = "", values: Any = ()
) -> list[Row]:
    page = store.show_page(
        record_type, kennel_id, limit=limit, where=f"AND t.deleted_at IS NULL {where}", values=values
    )
    return [store.load(text) for text in page.rows]


def dogs(kennel_id: int) -> list[Row]:
    """Dogs by name, those that live here first."""
    return sorted(
        _page(DOG, kennel_id, MOST_DOGS), key=lambda dog: (not dog["lives_here"], dog["name"].lower())
    )


def litters(kennel_id: int, *, closed: bool = False) -> list[Row]:
    """Litters that are expected or being raised (or the closed ones): expected first, then the youngest."""
    found = _page(LITTER, kennel_id, MOST_LITTERS, f"AND t.closed_on IS {'NOT ' if closed else ''}NULL")
    expected = [litter for litter in found if not litter["whelped_at"]]
    born = [litter for litter in found if litter["whelped_at"]]
    return expected + sorted(born, key=lambda litter: litter["whelped_at"], reverse=True)


def growth_tables(kennel_id: int) -> list[Row]:
    """Growth tables, the one entered last first."""
    return _page(GROWTH_TABLE, kennel_id, MOST_TABLES)


def litters_of_dog(kennel_id: int, uid: str) -> list[Row]:
    """Litters a dog is dam or sire of, newest first."""
    parent = "(SELECT id FROM litters_dog WHERE kennel_id = t.kennel_id AND uid = %s)"
    return _page(
        LITTER, kennel_id, MOST_LITTERS, f"AND (t.dam_id = {parent} OR t.sire_id = {parent})", [uid, uid]
    )


def pups_of(kennel_id: int, litter_uids: Iterable[str]) -> dict[str, list[Row]]:
    """Pups of each litter in their order of birth, each with its newest weight."""
    uids = [UUID(uid) for uid in litter_uids]
    if not uids:
        return {}
    found = _page(
        PUP,
        kennel_id,
        MOST_PUPS,
        "AND t.litter_id IN"
        " (SELECT id FROM litters_litter WHERE kennel_id = t.kennel_id AND uid = ANY(%s::uuid[]))",
        [store.array(uids)],
    )
    by_litter: dict[str, list[Row]] = {str(uid): [] for uid in uids}
    for pup in sorted(found, key=lambda p: (p["birth_order"] or 99, p["born_at"])):
        by_litter[pup["litter"]].append(pup)
    return by_litter


def last_weights(kennel_id: int, litter_uid: UUID, most: int = 2) -> dict[str, list[Row]]:
    """The newest weighings of each pup of a litter, newest first: uid, weight_g, occurred_at, by, version."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT p.uid::text, w.uid::text, trim_scale(w.weight_g), w.occurred_at, c.name, w.version
            FROM litters_pup p
            CROSS JOIN LATERAL (
                SELECT * FROM litters_weighing w
                WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id AND w.deleted_at IS NULL
                ORDER BY w.occurred_at DESC, w.id DESC LIMIT %s
            ) w
            LEFT JOIN people_carer c ON c.id = w.recorded_by_id
            WHERE p.kennel_id = %s AND p.deleted_at IS NULL
              AND p.litter_id = (SELECT id FROM litters_litter WHERE kennel_id = %s AND uid = %s)
            ORDER BY p.id, w.occurred_at DESC, w.id DESC LIMIT 200
            """,
            [most, kennel_id, kennel_id, litter_uid],
        )
        found: dict[str, list[Row]] = {}
        names = ("uid", "weight_g", "occurred_at", "by", "version")
        for pup_uid, *values in cursor.fetchall():
            found.setdefault(pup_uid, []).append(dict(zip(names, values, strict=True)))
    return found


def weighings_of(kennel_id: int, column: str, uid: UUID, before: tuple[Any, int] | None) -> store.Page:
    """A page of the weighings of one pup (column "pup") or dog ("dog"), newest first."""
    table = {"pup": "litters_pup", "dog": "litters_dog"}[column]
    return store.show_page(
        WEIGHING,
        kennel_id,
        limit=WEIGHINGS_A_PAGE,
        after=before,
        where=(
            f"AND t.deleted_at IS NULL AND t.{column}_id = "  # noqa: S608  (names from the list above)
            f"(SELECT id FROM {table} WHERE kennel_id = t.kennel_id AND uid = %s)"
        ),
        values=[uid],
    )


def corrections(kennel_id: int, uids: Iterable[str]) -> dict[str, list[Row]]:
    """What was corrected in each of these weighings, oldest first: both values, who, when, why."""
    wanted = [UUID(uid) for uid in uids]
    if not wanted:
        return {}
    entries = (
        Journal.objects.filter(kennel_id=kennel_id, type=WEIGHING.name, uid__in=wanted, op="update")
        .order_by("seq")
        .values("uid", "at", "actor_id", "old", "new")[:500]
    )
    names = _names({entry["actor_id"] for entry in entries if entry["actor_id"]})
    found: dict[str, list[Row]] = {}
    for entry in entries:
        change = {
            "at": entry["at"],
            "by": names.get(entry["actor_id"] or 0, ""),
            **_both(entry["old"] or {}, entry["new"] or {}),
        }
        found.setdefault(str(entry["uid"]), []).append(change)
    return found


def _both(old: Row, new: Row) -> Row:
    return {
        "old_g": old.get("weight_g"),
        "new_g": new.get("weight_g"),
        "old_at": old.get("occurred_at"),
        "new_at": new.get("occurred_at"),
        "moved": "pup_id" in new or "dog_id" in new,
        "reason": new.get("reason", ""),
    }


def _names(carer_ids: set[int]) -> dict[int, str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT id, name FROM people_carer WHERE id = ANY(%s)", [list(carer_ids)])
        return dict(cursor.fetchall())


def history_of(record_type: RecordType, kennel_id: int, uid: UUID) -> list[Row]:
    """Every version of a record, oldest first."""
    return history.of_record(record_type, uid, kennel_id)
