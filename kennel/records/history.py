"""Reading the journal: the history of one record, and the kennel's journal page by page."""

from typing import Any
from uuid import UUID

from django.db import connection, models

from kennel.people import models as people
from kennel.records import store, types
from kennel.records.store import INSTANT_FORMAT
from kennel.records.types import RecordType

_ENTRY = f"""
    SELECT json_build_object(
        'seq', j.seq, 'at', to_char(j.at AT TIME ZONE 'UTC', {INSTANT_FORMAT}), 'by', c.name, 'device', d.name,
        'request', j.request_id, 'type', j.type, 'uid', j.uid, 'op', j.op, 'version', j.version,
        'old', j.old, 'new', j.new)::text
    FROM records_journal j LEFT JOIN people_carer c ON c.id = j.actor_id LEFT JOIN people_device d ON d.id = j.device_id
    WHERE j.kennel_id = %s
"""  # noqa: S608


def of_record(record_type: RecordType, uid: UUID, kennel_id: int) -> list[dict[str, Any]]:
    """Journal entries of one record, oldest first, at most 1,000."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"{_ENTRY} AND j.type = %s AND j.uid = %s ORDER BY j.seq LIMIT 1000",
            [kennel_id, record_type.name, uid],
        )
        entries = [store.load(row[0]) for row in cursor.fetchall()]
    return _with_uids(entries, kennel_id)


def of_kennel(
    kennel_id: int, *, before_seq: int | None, limit: int, hidden_types: list[str]
) -> list[dict[str, Any]]:
    """Journal entries of the kennel, newest first, below a sequence number."""
    condition = " AND j.seq < %s" if before_seq is not None else ""
    values = [before_seq] if before_seq is not None else []
    with connection.cursor() as cursor:
        cursor.execute(
            f"{_ENTRY} AND NOT j.type = ANY(%s) {condition} ORDER BY j.seq DESC LIMIT %s",
            [kennel_id, hidden_types, *values, limit],
        )
        entries = [store.load(row[0]) for row in cursor.fetchall()]
    return _with_uids(entries, kennel_id)


def _with_uids(entries: list[dict[str, Any]], kennel_id: int) -> list[dict[str, Any]]:
    """Replace internal ids of references by uids (one query per referenced table), and column names by shown names."""
    wanted: dict[type[models.Model], set[int]] = {}
    for entry in entries:
        for _, field, value in _references(entry):
            wanted.setdefault(field.related_model, set()).add(value)
    found: dict[type[models.Model], dict[int, str]] = {}
    with connection.cursor() as cursor:
        for model, ids in wanted.items():
            here = "kennel_id = %s AND" if hasattr(model, "kennel_id") else "%s IS NOT NULL AND"
            cursor.execute(
                f'SELECT id, uid FROM "{model._meta.db_table}" WHERE {here} id = ANY(%s)',  # noqa: S608
                [kennel_id, list(ids)],
            )
            found[model] = {identifier: str(uid) for identifier, uid in cursor.fetchall()}
    for entry in entries:
        for part, field, value in list(_references(entry)):
            del part[field.column]
            part[field.name] = found[field.related_model].get(value)
        for part in (entry["old"], entry["new"]):
            for column in [c for c, v in (part or {}).items() if c.endswith("_id") and v is None]:
                part[column.removesuffix("_id")] = part.pop(column)
    return entries


_IDENTITIES: dict[str, type[models.Model]] = {
    "kennel": people.Kennel,
    "membership": people.Membership,
    "device": people.Device,
    "invitation": people.Invitation,
}


def _references(entry: dict[str, Any]) -> Any:
    record_type = types.by_name(entry["type"])
    model = record_type.model if record_type else _IDENTITIES.get(entry["type"])
    if model is None:
        return
    foreign = [f for f in model._meta.concrete_fields if isinstance(f, models.ForeignKey)]
    for part in (entry["old"], entry["new"]):
        for field in foreign:
            if part and part.get(field.column) is not None:
                yield part, field, part[field.column]
