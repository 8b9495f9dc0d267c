"""Writing duties and their animals from inside the server, in the transaction of the open door."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.records import store, types
from kennel.records.door import Door
from kennel.records.service import Saved
from kennel.records.types import RecordType

Row = dict[str, Any]


def duty_type() -> RecordType:
    """The record type of duties."""
    found = types.by_name("duty")
    assert found is not None  # registered by this app itself
    return found


def duties_insert(rows: Sequence[Row], door: Door) -> dict[UUID, int]:
    """Insert duties made by the server (each row with its uid); uid -> internal id.  Reactions run."""
    if not rows:
        return {}
    stamp = {
        "kennel_id": door.kennel.id,
        "recorded_at": door.at,
        "recorded_by_id": None,
        "recorded_device_id": None,
    }
    stamped = [{**row, **stamp} for row in rows]
    written = store.insert(duty_type(), stamped)
    _react([_saved(row, written, None) for row in stamped], door)
    return {uid: identifier for uid, (identifier, _) in written.items()}


def duties_update(rows: Sequence[Row], before: Mapping[UUID, Row], door: Door) -> None:
    """Update duties: every row has its uid and the same columns.  before: the old values of those columns."""
    if not rows:
        return
    written = store.update(duty_type(), rows, door.kennel.id)
    _react([_saved(row, written, before[row["uid"]]) for row in rows], door)


def _saved(row: Row, written: Mapping[UUID, tuple[int, int]], before: Row | None) -> Saved:
    identifier, version = written[row["uid"]]
    return Saved(identifier, row["uid"], version, row, before)


def _react(saved: Sequence[Saved], door: Door) -> None:
    for hook in types.reactions("duty"):
        hook(saved, door)


def animals_write(rows: Sequence[Row], door: Door) -> None:
    """Make the named animals of duties those given: new ones outstanding, changed ones updated.

    rows: duty_id, place, subject_type, subject_uid, name, asks.  Animals of the same duties that are still
    outstanding and not among them are taken out; what has an outcome stays.
    """
    if not rows:
        return
    text = store.dump(rows)
    with connection.cursor() as cursor:
        cursor.execute(
            """
            DELETE FROM duties_dutyanimal a
            WHERE a.kennel_id = %s AND a.state = 'outstanding'
              AND a.duty_id IN (SELECT duty_id FROM json_to_recordset(%s) AS n (duty_id bigint))
              AND NOT EXISTS (
                SELECT FROM json_to_recordset(%s) AS n (duty_id bigint, subject_type text, subject_uid uuid)
                WHERE n.duty_id = a.duty_id AND n.subject_type = a.subject_type
                    AND n.subject_uid = a.subject_uid)
            """,
            [door.kennel.id, text, text],
        )
        cursor.execute(
            """
            INSERT INTO duties_dutyanimal AS a (kennel_id, duty_id, place, subject_type, subject_uid, name,
                asks,
                                                state, reason, settled_type)
            SELECT %s, n.duty_id, n.place, n.subject_type, n.subject_uid, n.name, n.asks, 'outstanding', '',
                ''
            FROM json_to_recordset(%s) AS n (duty_id bigint, place int, subject_type text, subject_uid uuid,
                                             name text, asks jsonb)
            ON CONFLICT (duty_id, subject_type, subject_uid)
            DO UPDATE SET place = excluded.place, name = excluded.name, asks = excluded.asks
            WHERE (a.place, a.name, a.asks) IS DISTINCT FROM (excluded.place, excluded.name, excluded.asks)
            """,
            [door.kennel.id, text],
        )
