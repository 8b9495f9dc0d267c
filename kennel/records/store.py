"""The SQL of records: one statement per type for looking up, inserting, updating and showing."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any, NamedTuple
from uuid import UUID

import orjson
from django.db import connection, models

from kennel.people.models import Carer
from kennel.records.models import Record
from kennel.records.types import RecordType, by_name

Row = dict[str, Any]
INSTANT_FORMAT = '\'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"\''


class ParentRow(NamedTuple):
    """A referenced record: internal id, whether it is deleted, and whether its type calls for a closer look."""

    id: int
    uid: UUID
    is_deleted: bool
    needs_look: bool


def dump(rows: Any) -> str:
    """JSON text for the database; decimals travel digit by digit, so that nothing is rounded, and stay numbers."""
    return orjson.dumps(rows, default=_exact).decode()


def _exact(value: object) -> Any:
    return orjson.Fragment(format(value, "f")) if isinstance(value, Decimal) else str(value)


def load(text: str) -> Any:
    """JSON text of the database with exact decimals."""
    return json.loads(text, parse_float=Decimal)


def array(values: Iterable[UUID | int | datetime]) -> str:
    """PostgreSQL array literal, for `%s::uuid[]` and the like: far cheaper than adapting a Python list."""
    return "{" + orjson.dumps(list(values)).decode()[1:-1] + "}"


def column_of(record_type: RecordType, field_name: str) -> str:
    """Database column behind a shown field."""
    column = record_type.columns[field_name].column
    assert column is not None
    return column


def parent_model(record_type: RecordType, field_name: str) -> type[models.Model]:
    """Model a reference points at."""
    related = record_type.model._meta.get_field(field_name).related_model
    assert isinstance(related, type)
    return related


@dataclass(frozen=True, slots=True)
class LookUp:
    """What is stored of a list: rows by reference and uid, and the version of each uid of its own that is known."""

    parents: dict[str, dict[UUID, ParentRow]]
    known: dict[UUID, int]


def look_up(
    record_type: RecordType, wanted: dict[str, set[UUID]], uids: Sequence[UUID], kennel_id: int
) -> LookUp:
    """Find referenced records (uids by field name) and those of the type itself, by one statement."""
    by_table: dict[type[models.Model], set[UUID]] = {}
    looks: dict[type[models.Model], str] = {}
    for field_name, asked in wanted.items():
        if asked:
            model = parent_model(record_type, field_name)
            by_table.setdefault(model, set()).update(asked)
            parent_type = by_name(record_type.refs[field_name])
            looks[model] = "false" if parent_type is None else parent_type.needs_look
    parts: list[str] = []
    values: list[int | str] = []
    for place, (model, asked) in enumerate(by_table.items()):
        gone = "deleted_at IS NOT NULL" if issubclass(model, Record) else "false"
        parts.append(
            f'SELECT {place}, t.id, t.uid, {gone}, {looks[model]} FROM "{model._meta.db_table}" t '  # noqa: S608
            "WHERE t.kennel_id = %s AND t.uid = ANY(%s::uuid[])"
        )
        values += [kennel_id, array(asked)]
    if uids:
        # LIMIT keeps the planner on the (kennel, uid) key, also before the table was ever analysed.
        parts.append(
            "SELECT -1, t.version, t.uid, false, false FROM unnest(%s::uuid[]) AS asked CROSS JOIN LATERAL "  # noqa: S608
            f'(SELECT uid, version FROM "{record_type.table}" WHERE kennel_id = %s AND uid = asked LIMIT 1) t'
        )
        values += [array(uids), kennel_id]
    found: list[dict[UUID, ParentRow]] = [{} for _ in by_table]
    known: dict[UUID, int] = {}
    if parts:
        with connection.cursor() as cursor:
            cursor.execute(" UNION ALL ".join(parts), values)
            for place, number, uid, is_deleted, needs_look in cursor.fetchall():
                if place < 0:
                    known[uid] = number
                else:
                    found[place][uid] = ParentRow(number, uid, is_deleted, needs_look)
    tables = dict(zip(by_table, found, strict=True))
    return LookUp({name: tables.get(parent_model(record_type, name), {}) for name in wanted}, known)


def known_uids(record_type: RecordType, uids: Sequence[UUID], kennel_id: int) -> dict[UUID, int]:
    """Version of each uid that is already stored."""
    return look_up(record_type, {}, uids, kennel_id).known


def erased_uids(record_type: RecordType, uids: Sequence[UUID], kennel_id: int) -> set[UUID]:
    """Which of these records were emptied for privacy; none of a type that is never erased."""
    if "erased_at" not in record_type.columns:
        return set()
    with connection.cursor() as cursor:
        cursor.execute(
            f'SELECT uid FROM "{record_type.table}" '  # noqa: S608
            "WHERE kennel_id = %s AND uid = ANY(%s::uuid[]) AND erased_at IS NOT NULL",
            [kennel_id, array(uids)],
        )
        return {row[0] for row in cursor.fetchall()}


def same_as_created(record_type: RecordType, sent: dict[UUID, Row], kennel_id: int) -> set[UUID]:
    """Which uids were created with the same content as sent now, for the columns sent, whatever changed since.

    Columns journalled by name only cannot be compared; for those the current row counts.
    """
    rows = [{"uid": str(uid), "sent": columns} for uid, columns in sent.items()]
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT s.uid FROM jsonb_to_recordset(%s::jsonb) AS s (uid uuid, sent jsonb)
            JOIN records_journal j ON j.kennel_id = %s AND j.type = %s AND j.uid = s.uid AND j.op = 'create'
            CROSS JOIN LATERAL to_jsonb(jsonb_populate_record(NULL::"{record_type.table}", s.sent)) AS typed
            WHERE NOT EXISTS (
                SELECT 1 FROM jsonb_object_keys(s.sent) AS k
                WHERE jsonb_strip_nulls(typed -> k) IS DISTINCT FROM COALESCE(j.new -> k, 'null') AND COALESCE(j.new -> k, 'null') <> 'true'
            )
            """,  # noqa: S608
            [dump(rows), kennel_id, record_type.name],
        )
        return {row[0] for row in cursor.fetchall()}


def insert(record_type: RecordType, rows: Sequence[Row]) -> dict[UUID, tuple[int, int]]:
    """Insert rows in one statement; uid -> (id, version).

    Known uids were found before, under the lock that nobody else writes beside: one that is there already is an
    error, not a race.
    """
    names = sorted(set().union(*rows))
    # Values that all rows share (kennel, author, instant of recording) travel once.
    columns = {c: [row.get(c) for row in rows] for c in names}
    shared = {c: values[0] for c, values in columns.items() if values.count(values[0]) == len(values)}
    own = [c for c in names if c not in shared]
    own_values = zip(*(columns[c] for c in own), strict=True) if own else ((),) * len(rows)
    source = ", ".join(f'{"s" if c in shared else "n"}."{c}"' for c in names)
    table = f'"{record_type.table}"'
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table} ({', '.join(_quoted(names))}) SELECT {source} "  # noqa: S608
            f"FROM json_populate_recordset(NULL::{table}, %s) n "
            f"CROSS JOIN json_populate_record(NULL::{table}, %s) s "
            "RETURNING uid, id, version",
            [dump([dict(zip(own, row, strict=True)) for row in own_values]), dump(shared)],
        )
        return {uid: (identifier, version) for uid, identifier, version in cursor.fetchall()}


def _quoted(names: Iterable[str]) -> list[str]:
    return [f'"{name}"' for name in names]


def update(record_type: RecordType, rows: Sequence[Row], kennel_id: int) -> dict[UUID, tuple[int, int]]:
    """Write the given columns of known rows (all rows alike) in one statement; uid -> (id, version)."""
    columns = sorted({column for row in rows for column in row} - {"uid"})
    assignments = ", ".join(f'"{c}" = n."{c}"' for c in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE "{record_type.table}" t SET {assignments} '  # noqa: S608
            f'FROM json_populate_recordset(NULL::"{record_type.table}", %s) n '
            "WHERE t.kennel_id = %s AND t.uid = n.uid RETURNING t.uid, t.id, t.version",
            [dump(rows), kennel_id],
        )
        return {uid: (identifier, version) for uid, identifier, version in cursor.fetchall()}


def current_rows(record_type: RecordType, uids: Iterable[UUID], kennel_id: int) -> dict[UUID, Row]:
    """Stored rows as column dictionaries, plus `<field>` -> uid for every writable reference."""
    joins, pairs = [], []
    for place, field_name in enumerate(record_type.refs):
        column = column_of(record_type, field_name)
        table = parent_model(record_type, field_name)._meta.db_table
        joins.append(
            f'LEFT JOIN "{table}" p{place} ON p{place}.kennel_id = t.kennel_id AND p{place}.id = t."{column}"'
        )
        pairs.append(f"'{field_name}', p{place}.uid")
    extra = f"|| jsonb_build_object({', '.join(pairs)})" if pairs else ""
    with connection.cursor() as cursor:
        cursor.execute(
            f'SELECT t.uid, (to_jsonb(t) {extra})::text FROM "{record_type.table}" t {" ".join(joins)} '  # noqa: S608
            "WHERE t.kennel_id = %s AND t.uid = ANY(%s::uuid[])",
            [kennel_id, array(uids)],
        )
        return {uid: load(text) for uid, text in cursor.fetchall()}


def expression(field: "models.Field[Any, Any]", alias: str = "t") -> str:
    """SQL that shows a column as the API writes it: UTC with Z, plain digits."""
    column = f'{alias}."{field.column}"'
    if isinstance(field, models.DateTimeField):
        return f"to_char({column} AT TIME ZONE 'UTC', {INSTANT_FORMAT})"
    if isinstance(field, models.DecimalField):
        return f"trim_scale({column})"
    if isinstance(field, models.TimeField):
        return f"to_char({column}, 'HH24:MI')"
    return column


@lru_cache(maxsize=256)
def _body_and_joins(name: str) -> tuple[str, str]:
    record_type = by_name(name)
    assert record_type is not None
    pairs, joins = [], []
    for shown, field in record_type.columns.items():
        if isinstance(field, models.ForeignKey):
            related = field.related_model
            alias = f"p_{field.name}"
            here = f"{alias}.kennel_id = t.kennel_id AND " if issubclass(related, Record) else ""
            joins.append(
                f'LEFT JOIN "{related._meta.db_table}" {alias} ON {here}{alias}.id = t."{field.column}"'
            )
            pairs.append(f"'{shown}', {alias}.uid")
        else:
            pairs.append(f"'{shown}', {expression(field)}")
    joins.append(f'LEFT JOIN "{Carer._meta.db_table}" author ON author.id = t.recorded_by_id')
    joins.append("LEFT JOIN people_device author_device ON author_device.id = t.recorded_device_id")
    pairs.append("'recorded_by', author.name, 'recorded_device', author_device.name")
    pairs.append("'deleted', t.deleted_at IS NOT NULL")
    for shown, computed in record_type.computed.items():
        pairs.append(f"'{shown}', {computed.sql}")
        if computed.join:
            joins.append(computed.join)
    return f"json_build_object({', '.join(pairs)})::text", " ".join(joins)


@dataclass(frozen=True)
class Page:
    """Rows as JSON text, newest first, and the key to go on after the last (None at the end)."""

    rows: list[str]
    next_key: tuple[Any, int] | None


def show_page(
    record_type: RecordType,
    kennel_id: int,
    *,
    limit: int,
    after: tuple[Any, int] | None = None,
    where: str = "",
    values: Sequence[Any] = (),
    oldest_first: bool = False,
) -> Page:
    """A page of records, by one statement that also builds the JSON.

    where/values: extra condition over `t`, already safe (built from registered names, values as parameters).
    """
    statement = page_statement(record_type, where=where, goes_on=after is not None, oldest_first=oldest_first)
    with connection.cursor() as cursor:
        cursor.execute(statement, [kennel_id, *values, *(after or ()), limit + 1])
        rows = cursor.fetchall()
    more = len(rows) > limit
    rows = rows[:limit]
    return Page([row[0] for row in rows], (rows[-1][1], rows[-1][2]) if more else None)


def page_statement(
    record_type: RecordType, *, where: str = "", goes_on: bool = False, oldest_first: bool = False
) -> str:
    """SQL of a page: (JSON text, key as text, internal id) of each row.

    Parameters: kennel id, those of `where`, key and id to go on after (when goes_on), number of rows.
    """
    body, joins = _body_and_joins(record_type.name)
    column = f't."{record_type.order_column}"' if not oldest_first else "t.id"
    direction, beyond = ("ASC", ">") if oldest_first else ("DESC", "<")
    condition = f" AND ({column}, t.id) {beyond} (%s, %s)" if goes_on else ""
    return (
        f'SELECT {body}, {column}::text, t.id FROM (SELECT * FROM "{record_type.table}" t '  # noqa: S608
        f"WHERE t.kennel_id = %s {where} {condition} ORDER BY {column} {direction}, t.id {direction} LIMIT %s) t "
        f"{joins} ORDER BY {column} {direction}, t.id {direction}"
    )


@dataclass(frozen=True, slots=True)
class Shown:
    """A record as the API shows it."""

    version: int
    text: str
    is_deleted: bool


def show(record_type: RecordType, kennel_id: int, uids: Sequence[UUID]) -> dict[UUID, Shown]:
    """Records by uid, deleted ones too."""
    body, joins = _body_and_joins(record_type.name)
    with connection.cursor() as cursor:
        cursor.execute(
            f'SELECT t.uid, t.version, {body}, t.deleted_at IS NOT NULL FROM "{record_type.table}" t {joins} '  # noqa: S608
            "WHERE t.kennel_id = %s AND t.uid = ANY(%s::uuid[])",
            [kennel_id, array(uids)],
        )
        return {row[0]: Shown(*row[1:]) for row in cursor.fetchall()}
