"""The change feed and the snapshot: everything a device needs to hold a true copy of one kennel."""

from dataclasses import dataclass
from typing import Any

import orjson
from django.db import connection

from kennel.people import selectors
from kennel.people.choices import RANK
from kennel.people.shapes import SHAPES
from kennel.records import store, types
from kennel.records.door import Door
from kennel.records.types import RecordType


@dataclass(frozen=True)
class Changes:
    """A page of the feed: JSON texts of its entries, the sequence number reached, and whether more waits."""

    entries: list[str]
    seq: int
    has_more: bool


def readable_types(door: Door) -> list[RecordType]:
    """Record types this actor may see, parents before children."""
    return [t for t in types.every() if RANK[door.actor.role] >= RANK[t.read_role]]


def readable_identity_types(door: Door) -> list[str]:
    """Names of the identity types (kennel, members, devices, invitations) this actor may see."""
    return [name for name, shape in SHAPES.items() if RANK[door.actor.role] >= RANK[shape.read_role]]


def changes(door: Door, after_seq: int, limit: int) -> Changes:
    """What changed after a sequence number: the last change of each uid in the page, with the current row."""
    readable = {t.name: t for t in readable_types(door)}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT seq, type, uid, version, at FROM records_journal WHERE kennel_id = %s AND seq > %s ORDER BY seq LIMIT %s",
            [door.kennel.id, after_seq, limit + 1],
        )
        rows = cursor.fetchall()
    has_more = len(rows) > limit
    rows = rows[:limit]
    last: dict[tuple[str, Any], tuple[int, Any]] = {}
    for seq, type_name, uid, _, at in rows:
        last[type_name, uid] = (seq, at)
    shown: dict[tuple[str, Any], store.Shown] = {}
    for name, record_type in readable.items():
        uids = [uid for type_name, uid in last if type_name == name]
        if uids:
            found = store.show(record_type, door.kennel.id, uids)
            shown |= {(name, uid): row for uid, row in found.items()}
    for name in readable_identity_types(door):
        uids = [uid for type_name, uid in last if type_name == name]
        if uids:
            people = selectors.identity_rows(door.kennel.id, name, uids)
            shown |= {(name, uid): store.Shown(*row) for uid, row in people.items()}
    entries = []
    for key, (seq, at) in sorted(last.items(), key=lambda item: item[1][0]):
        if key in shown:
            entries.append(_entry(seq, key[0], key[1], shown[key], at))
    return Changes(entries, rows[-1][0] if rows else after_seq, has_more)


def _entry(seq: int, name: str, uid: Any, row: store.Shown, at: Any) -> str:
    head = orjson.dumps(
        {
            "seq": seq,
            "type": name,
            "uid": uid,
            "op": "delete" if row.is_deleted else "upsert",
            "version": row.version,
            "recorded_at": at,
        },
        option=orjson.OPT_UTC_Z,
    ).decode()
    return f'{head[:-1]},"data":{row.text}}}'


@dataclass(frozen=True)
class SnapshotPage:
    """A page of a snapshot: entries, and where to go on (type name and internal id), None at the end."""

    entries: list[str]
    next_place: tuple[str, int] | None


def snapshot(door: Door, place: tuple[str, int] | None, limit: int) -> SnapshotPage:
    """Rows of all readable types, people and devices first, deleted ones too, by type and internal id."""
    record_types = {t.name: t for t in readable_types(door)}
    names = [*readable_identity_types(door), *record_types]
    if place and place[0] not in names:
        return SnapshotPage([], None)
    start, after = (names.index(place[0]), place[1]) if place else (0, 0)
    entries: list[str] = []
    for index in range(start, len(names)):
        name = names[index]
        rows, next_id = _snapshot_rows(door, name, record_types.get(name), after, limit - len(entries))
        entries += [f'{{"type":"{name}","data":{text}}}' for text in rows]
        if next_id:
            return SnapshotPage(entries, (name, next_id))
        after = 0
        if len(entries) >= limit and index + 1 < len(names):
            return SnapshotPage(entries, (names[index + 1], 0))
    return SnapshotPage(entries, None)


def _snapshot_rows(
    door: Door, name: str, record_type: RecordType | None, after: int, limit: int
) -> tuple[list[str], int | None]:
    if record_type is None:
        people = selectors.identity_page(door.kennel.id, name, limit=limit, after=after)
        return people.rows, people.next_id
    key = (after, after) if after else None
    page = store.show_page(record_type, door.kennel.id, limit=limit, after=key, oldest_first=True)
    return page.rows, page.next_key[1] if page.next_key else None
