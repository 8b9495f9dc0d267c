"""The change feed and the snapshot: everything a device needs to hold a true copy of one kennel."""

from dataclasses import dataclass
from typing import Any

import orjson
from django.db import connection

from kennel.people.choices import RANK
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
    entries = []
    for key, (seq, at) in sorted(last.items(), key=lambda item: item[1][0]):
        if key in shown:
            entries.append(_entry(seq, key[0], key[1], shown[key], at))
        elif key[0] in IDENTITY_TYPES:
            entries.append(_notice(seq, key[0], key[1], at))
    return Changes(entries, rows[-1][0] if rows else after_seq, has_more)


# People and devices are read through their own resources; the feed says that they changed.
IDENTITY_TYPES = {"kennel", "membership", "invitation", "device"}


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


def _notice(seq: int, name: str, uid: Any, at: Any) -> str:
    return orjson.dumps(
        {"seq": seq, "type": name, "uid": uid, "op": "upsert", "version": None, "recorded_at": at, "data": None},
        option=orjson.OPT_UTC_Z,
    ).decode()


@dataclass(frozen=True)
class SnapshotPage:
    """A page of a snapshot: entries, and where to go on (type name and internal id), None at the end."""

    entries: list[str]
    next_place: tuple[str, int] | None


def snapshot(door: Door, place: tuple[str, int] | None, limit: int) -> SnapshotPage:
    """Rows of all readable types, deleted ones too, by type and internal id."""
    readable = readable_types(door)
    start = 0
    after: tuple[int, int] | None = None
    if place:
        names = [t.name for t in readable]
        if place[0] not in names:
            return SnapshotPage([], None)
        start = names.index(place[0])
        after = (place[1], place[1]) if place[1] else None
    entries: list[str] = []
    for index in range(start, len(readable)):
        record_type = readable[index]
        page = store.show_page(
            record_type, door.kennel.id, limit=limit - len(entries), after=after, oldest_first=True
        )
        entries += [f'{{"type":"{record_type.name}","data":{text}}}' for text in page.rows]
        if page.next_key:
            return SnapshotPage(entries, (record_type.name, page.next_key[1]))
        after = None
        if len(entries) >= limit and index + 1 < len(readable):
            return SnapshotPage(entries, (readable[index + 1].name, 0))
    return SnapshotPage(entries, None)
