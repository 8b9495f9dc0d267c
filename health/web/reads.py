"""What the health pages show: rows as the API shows them, inside an open door, each list one bounded query."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import connection
from django.http import Http404

from health.registrations import HEALTH_EVENT, MEDICINE, TREATMENT, TREATMENT_PLAN, WATCH
from kennel.records import store
from kennel.records.types import RecordType
from litters.web import reads as litter_reads
from litters.web.entries import pup_label

Row = dict[str, Any]
MOST = 100


def _page(record_type: RecordType, kennel_id: int, where: str = "", values: Sequence[Any] = ()) -> list[Row]:
    page = store.show_page(
        record_type, kennel_id, limit=MOST, where=f"AND t.deleted_at IS NULL {where}", values=list(values)
    )
    return [store.load(text) for text in page.rows]


def row(record_type: RecordType, kennel_id: int, uid: UUID) -> Row:
    """One record.  Raises Http404 when it is not in this kennel."""
    return litter_reads.row(record_type, kennel_id, uid)


def medicines(kennel_id: int) -> list[Row]:
    """Medicines by name, those in use first."""
    found = _page(MEDICINE, kennel_id)
    return sorted(found, key=lambda one: (not one["in_use"], one["name"].lower()))


def plans(kennel_id: int) -> list[Row]:
    """Treatment plans that have not ended, newest first."""
    return _page(TREATMENT_PLAN, kennel_id, "AND t.ended_on IS NULL")


def treatments(kennel_id: int) -> list[Row]:
    """The newest treatments."""
    return _page(TREATMENT, kennel_id)


def health_events(kennel_id: int) -> list[Row]:
    """The newest health events."""
    return _page(HEALTH_EVENT, kennel_id)


def _of(kind: str, *columns: str) -> str:
    """SQL of rows that name a pup, dog or litter; columns: how they name it, "pups" for any pup of the litter,
    "pup litter" for the litter of a pup."""
    table = f"litters_{kind}"
    me = f"(SELECT id FROM {table} WHERE kennel_id = t.kennel_id AND uid = %s)"  # noqa: S608 - three tables of ours
    by = {
        "pups": f"t.pup_id IN (SELECT p.id FROM litters_pup p WHERE p.kennel_id = t.kennel_id AND p.litter_id = {me})",  # noqa: S608
        "pup litter": "t.litter_id = (SELECT p.litter_id FROM litters_pup p WHERE p.kennel_id = t.kennel_id"
        " AND p.uid = %s)",
    }
    return f"AND ({' OR '.join(by.get(column, f't.{column}_id = {me}') for column in columns)})"


def _about(
    record_type: RecordType, kennel_id: int, kind: str, uid: UUID, columns: Sequence[str]
) -> list[Row]:
    return _page(record_type, kennel_id, _of(kind, *columns), [uid] * len(columns))


def treatments_about(kennel_id: int, kind: str, uid: UUID) -> list[Row]:
    """The newest treatments of a pup, of a dog, or of the pups of a litter."""
    return _about(TREATMENT, kennel_id, kind, uid, ["pups" if kind == "litter" else kind])


def health_events_about(kennel_id: int, kind: str, uid: UUID) -> list[Row]:
    """The newest health events of a pup and its litter, of a dog, or of a litter and its pups."""
    columns = {"litter": ["litter", "pups"], "dog": ["dog"], "pup": ["pup", "pup litter"]}[kind]
    return _about(HEALTH_EVENT, kennel_id, kind, uid, columns)


def watches_about(kennel_id: int, kind: str, uid: UUID) -> list[Row]:
    """Open watches of a pup, of a dog, or of the pups of a litter."""
    found = _about(WATCH, kennel_id, kind, uid, ["pups" if kind == "litter" else kind])
    return [one for one in found if one["closed_at"] is None]


def plans_about(kennel_id: int, kind: str, uid: UUID) -> list[Row]:
    """Plans of a litter, of a dog, or of the litter of a pup that have not ended."""
    where = _of(kind, "pup litter" if kind == "pup" else kind)
    return _page(TREATMENT_PLAN, kennel_id, f"{where} AND t.ended_on IS NULL", [uid])


def watches(kennel_id: int) -> list[Row]:
    """Watches, newest first."""
    return _page(WATCH, kennel_id)


def animals(kennel_id: int) -> list[tuple[str, str]]:
    """What people may choose: ("pup:uid" or "dog:uid", name), pups of open litters first."""
    litters = [litter for litter in litter_reads.litters(kennel_id) if litter["whelped_at"]]
    pups = litter_reads.pups_of(kennel_id, [litter["uid"] for litter in litters])
    found = [
        (f"pup:{pup['uid']}", f"{pup_label(pup)} ({litter['name']})")
        for litter in litters
        for pup in pups[litter["uid"]]
        if pup["fate"] == "living"
    ]
    return found + [
        (f"dog:{dog['uid']}", dog["name"]) for dog in litter_reads.dogs(kennel_id) if dog["lives_here"]
    ]


def names(kennel_id: int, rows: Sequence[Row]) -> dict[str, str]:
    """What people call the pups, dogs and litters of these rows, by uid.  One query."""
    uids = {row[field] for row in rows for field in ("pup", "dog", "litter") if row.get(field)}
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT uid::text, COALESCE(NULLIF(name, ''), NULLIF(band, ''), 'pup ' || COALESCE(birth_order, 0))
            FROM litters_pup WHERE kennel_id = %(k)s AND uid = ANY(%(u)s::uuid[])
            UNION ALL SELECT uid::text, name FROM litters_dog WHERE kennel_id = %(k)s AND uid = ANY(%(u)s::uuid[])
            UNION ALL SELECT uid::text, name FROM litters_litter WHERE kennel_id = %(k)s AND uid = ANY(%(u)s::uuid[])
            """,
            {"k": kennel_id, "u": store.array(UUID(uid) for uid in uids)},
        )
        return dict(cursor.fetchall())


def animal_of(row: Row) -> str:
    """The uid a row is about."""
    found = row.get("pup") or row.get("dog") or row.get("litter")
    if found is None:
        raise Http404
    return str(found)
