"""A litter's timeline: facts of all kinds in one order.  Apps add what they know as a source."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.records import store


@dataclass(frozen=True, slots=True)
class Source:
    """Facts of one kind.  sql: a SELECT giving (type, uid, occurred_at, pup uid, said json, recorded_by_id, version,
    warnings jsonb, note) of the litter %(litter)s in the kennel %(kennel)s; facts of its dam %(dam)s between
    %(dam_from)s and %(dam_to)s.
    """

    name: str
    sql: str


@dataclass(frozen=True, slots=True)
class Line:
    """One fact.  pup: None for the dam, the box or the whole litter."""

    type: str
    uid: UUID
    occurred_at: datetime
    pup: UUID | None
    said: dict[str, Any]
    recorded_by: str
    is_corrected: bool
    warnings: list[dict[str, str]]
    note: str


def _of_pups(type_name: str, table: str, said: str) -> Source:
    return Source(
        type_name,
        f"SELECT '{type_name}', f.uid, f.occurred_at, p.uid, {said}, f.recorded_by_id, f.version, f.warnings, f.note"  # noqa: S608
        f" FROM litters_pup p JOIN {table} f ON f.kennel_id = p.kennel_id AND f.pup_id = p.id AND f.deleted_at IS NULL"
        " WHERE p.kennel_id = %(kennel)s AND p.litter_id = %(litter)s AND p.deleted_at IS NULL",
    )


def _of_dam(type_name: str, table: str, said: str) -> Source:
    return Source(
        f"dam {type_name}",
        f"SELECT '{type_name}', f.uid, f.occurred_at, NULL::uuid, {said}, f.recorded_by_id, f.version, f.warnings,"  # noqa: S608
        f" f.note FROM {table} f WHERE f.kennel_id = %(kennel)s AND f.dog_id = %(dam)s AND f.deleted_at IS NULL"
        " AND f.occurred_at BETWEEN %(dam_from)s AND %(dam_to)s",
    )


_WEIGHT = "jsonb_build_object('weight_g', trim_scale(f.weight_g), 'is_birth_weight', f.is_birth_weight)"
_TEMPERATURE = "jsonb_build_object('temp_c', trim_scale(f.temp_c))"
_NO_WARNINGS = "'[]'::jsonb"
_sources: list[Source] = [
    _of_pups("weighing", "litters_weighing", _WEIGHT),
    _of_dam("weighing", "litters_weighing", _WEIGHT),
    _of_pups("temperature", "litters_temperature", _TEMPERATURE),
    _of_dam("temperature", "litters_temperature", _TEMPERATURE),
    _of_pups("milestone", "litters_milestone", "jsonb_build_object('kind', f.kind)"),
    _of_pups("departure", "litters_departure", "jsonb_build_object('kind', f.kind)"),
    _of_pups("return", "litters_return", "'{}'::jsonb"),
    Source(
        "whelping-entry",
        "SELECT 'whelping-entry', f.uid, f.occurred_at, p.uid, jsonb_build_object('kind', f.kind, 'strength', f.strength,"
        " 'discharge', f.discharge, 'is_alive', f.is_alive), f.recorded_by_id, f.version, f.warnings, f.note"
        " FROM litters_whelpingentry f LEFT JOIN litters_pup p ON p.kennel_id = f.kennel_id AND p.id = f.pup_id"
        " WHERE f.kennel_id = %(kennel)s AND f.litter_id = %(litter)s AND f.deleted_at IS NULL",
    ),
    Source(
        "box-climate",
        "SELECT 'box-climate', f.uid, f.occurred_at, NULL::uuid, jsonb_build_object('surface_c', f.surface_c, 'area_c',"
        " f.area_c, 'humidity_pct', f.humidity_pct), f.recorded_by_id, f.version, f.warnings, f.note"
        " FROM litters_boxclimate f WHERE f.kennel_id = %(kennel)s AND f.litter_id = %(litter)s"
        " AND f.deleted_at IS NULL",
    ),
    Source(
        "birth",
        "SELECT 'birth', p.uid, p.born_at, p.uid, jsonb_build_object('fate', p.fate, 'sex', p.sex), p.recorded_by_id,"  # noqa: S608
        f" p.version, {_NO_WARNINGS}, p.note FROM litters_pup p"
        " WHERE p.kennel_id = %(kennel)s AND p.litter_id = %(litter)s AND p.deleted_at IS NULL",
    ),
    Source(
        "death",
        "SELECT 'death', p.uid, p.died_at, p.uid, '{}'::jsonb, p.recorded_by_id, p.version,"  # noqa: S608
        f" {_NO_WARNINGS}, ''::varchar FROM litters_pup p WHERE p.kennel_id = %(kennel)s"
        " AND p.litter_id = %(litter)s AND p.deleted_at IS NULL AND p.died_at IS NOT NULL",
    ),
]


def add_source(source: Source) -> None:
    """Add facts of a kind; called from an app's `apps.py`."""
    _sources.append(source)


def lines_of(
    values: dict[str, Any],
    from_at: datetime,
    to_at: datetime,
    limit: int,
    before: tuple[datetime, UUID] | None = None,
) -> tuple[list[Line], bool]:
    """(the newest `limit` facts in [from_at, to_at), newest first; whether there are older ones).

    values: kennel, litter, dam (internal ids), dam_from, dam_to.  before: only facts older than this line.
    One query; inside an open door.
    """
    at, uid = before or (to_at, UUID(int=2**128 - 1))
    bounds = {"from_at": from_at, "to_at": to_at, "before_at": at, "before_uid": uid, "most": limit + 1}
    with connection.cursor() as cursor:
        cursor.execute(_query(_sources), values | bounds)
        rows = cursor.fetchall()
    return [_line(row) for row in rows[:limit]], len(rows) > limit


def _query(sources: Sequence[Source]) -> str:
    parts = [
        f"(SELECT * FROM ({source.sql}) AS s (type, uid, occurred_at, pup, said, recorded_by_id, version, warnings, note)"  # noqa: S608
        " WHERE occurred_at >= %(from_at)s AND occurred_at < %(to_at)s"
        " AND (occurred_at, uid) < (%(before_at)s, %(before_uid)s::uuid)"
        " ORDER BY occurred_at DESC, uid DESC LIMIT %(most)s)"
        for source in sources
    ]
    return (
        "SELECT t.type, t.uid, t.occurred_at, t.pup, t.said::text, COALESCE(c.name, ''), t.version > 1, t.warnings::text,"  # noqa: S608
        f" t.note FROM ({' UNION ALL '.join(parts)}) t LEFT JOIN people_carer c ON c.id = t.recorded_by_id"
        " ORDER BY t.occurred_at DESC, t.uid DESC LIMIT %(most)s"
    )


def _line(row: tuple[Any, ...]) -> Line:
    type_name, uid, occurred_at, pup, said, by, is_corrected, warnings, note = row
    return Line(
        type_name, uid, occurred_at, pup, store.load(said), by, is_corrected, store.load(warnings), note
    )
