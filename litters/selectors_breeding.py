"""What is known of a dam's pregnancy: season, blood, matings, scans, temperatures, the whelping log."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

MOST = 200


@dataclass(frozen=True, slots=True)
class SeasonRow:
    """A season with the days a vet read from it."""

    id: int
    uid: UUID
    began_on: date
    lh_surge_on: date | None
    ovulated_on: date | None
    diestrus_on: date | None


@dataclass(frozen=True, slots=True)
class TestRow:
    """A progesterone value in the unit it was printed in."""

    uid: UUID
    season_id: int | None
    at: datetime
    value: float
    unit: str
    analyser: str
    known_on: date | None


@dataclass(frozen=True, slots=True)
class MatingRow:
    """A mating."""

    uid: UUID
    season_id: int | None
    at: datetime
    kind: str


@dataclass(frozen=True, slots=True)
class ScanRow:
    """A scan: readings of a structure, pups counted, or both."""

    uid: UUID
    season_id: int | None
    at: datetime
    method: str
    structure: str
    readings: tuple[float, ...]
    unit: str
    pups_counted: int | None


@dataclass(frozen=True, slots=True)
class LogRow:
    """A line of the whelping log; pup_id where it names one."""

    uid: UUID
    kind: str
    at: datetime
    pup_id: int | None
    strength: str
    discharge: str
    is_alive: bool
    note: str


@dataclass(frozen=True, slots=True)
class BirthRow:
    """A pup that is on record."""

    id: int
    born_at: datetime
    is_alive: bool


def seasons_of(dam_id: int, kennel_id: int, from_on: date, to_on: date) -> list[SeasonRow]:
    """Seasons of a dam that began in an interval, the newest first."""
    return [
        SeasonRow(*row)
        for row in _rows(
            "SELECT id, uid, began_on, lh_surge_on, ovulated_on, diestrus_on FROM litters_season"
            " WHERE kennel_id = %s AND dam_id = %s AND deleted_at IS NULL AND began_on BETWEEN %s AND %s"
            " ORDER BY began_on DESC, id DESC LIMIT %s",
            [kennel_id, dam_id, from_on, to_on, MOST],
        )
    ]


def season_by_id(season_id: int, kennel_id: int) -> SeasonRow | None:
    """The season a litter names."""
    rows = _rows(
        "SELECT id, uid, began_on, lh_surge_on, ovulated_on, diestrus_on FROM litters_season"
        " WHERE kennel_id = %s AND id = %s AND deleted_at IS NULL",
        [kennel_id, season_id],
    )
    return SeasonRow(*rows[0]) if rows else None


def previous_whelping(dam_id: int, litter_id: int, kennel_id: int, before: datetime) -> datetime | None:
    """When a dam last whelped another litter before an instant."""
    rows = _rows(
        "SELECT max(whelped_at) FROM litters_litter WHERE kennel_id = %s AND dam_id = %s AND id <> %s"
        " AND deleted_at IS NULL AND whelped_at < %s",
        [kennel_id, dam_id, litter_id, before],
    )
    found: datetime | None = rows[0][0]
    return found


def tests_of(dam_id: int, kennel_id: int, from_at: datetime, to_at: datetime) -> list[TestRow]:
    """Progesterone tests of a dam in an interval, oldest first."""
    return [
        TestRow(*row)
        for row in _facts(
            "uid, season_id, occurred_at, value::float8, unit, analyser, known_on",
            "litters_progesteronetest",
            dam_id,
            kennel_id,
            from_at,
            to_at,
        )
    ]


def matings_of(dam_id: int, kennel_id: int, from_at: datetime, to_at: datetime) -> list[MatingRow]:
    """Matings of a dam in an interval, oldest first."""
    return [
        MatingRow(*row)
        for row in _facts(
            "uid, season_id, occurred_at, kind", "litters_mating", dam_id, kennel_id, from_at, to_at
        )
    ]


def scans_of(dam_id: int, kennel_id: int, from_at: datetime, to_at: datetime) -> list[ScanRow]:
    """Scans of a dam in an interval, oldest first."""
    rows = _facts(
        "uid, season_id, occurred_at, method, structure,"
        " ARRAY(SELECT value::float8 FROM jsonb_array_elements_text(readings)), unit, pups_counted",
        "litters_scan",
        dam_id,
        kennel_id,
        from_at,
        to_at,
    )
    return [
        ScanRow(uid, season_id, at, method, structure, tuple(readings), unit, pups_counted)
        for uid, season_id, at, method, structure, readings, unit, pups_counted in rows
    ]


def temperatures_of_dog(
    dog_id: int, kennel_id: int, from_at: datetime, to_at: datetime
) -> list[tuple[datetime, float]]:
    """(instant, degrees Celsius) of a dog in an interval, oldest first."""
    return [
        (row[0], row[1])
        for row in _rows(
            "SELECT occurred_at, temp_c::float8 FROM litters_temperature WHERE kennel_id = %s AND dog_id = %s"
            " AND deleted_at IS NULL AND occurred_at BETWEEN %s AND %s ORDER BY occurred_at, id LIMIT %s",
            [kennel_id, dog_id, from_at, to_at, MOST * 5],
        )
    ]


def log_of(litter_id: int, kennel_id: int, at: datetime) -> list[LogRow]:
    """The whelping log of a litter until an instant, oldest first."""
    return [
        LogRow(*row)
        for row in _rows(
            "SELECT uid, kind, occurred_at, pup_id, strength, discharge, is_alive, note FROM litters_whelpingentry"
            " WHERE kennel_id = %s AND litter_id = %s AND deleted_at IS NULL AND occurred_at <= %s"
            " ORDER BY occurred_at, id LIMIT %s",
            [kennel_id, litter_id, at, MOST * 5],
        )
    ]


def births_of(litter_id: int, kennel_id: int, at: datetime) -> list[BirthRow]:
    """Pups of a litter on record until an instant, oldest first."""
    return [
        BirthRow(*row)
        for row in _rows(
            "SELECT id, born_at, fate <> 'stillborn' FROM litters_pup WHERE kennel_id = %s AND litter_id = %s"
            " AND deleted_at IS NULL AND born_at <= %s ORDER BY born_at, id LIMIT %s",
            [kennel_id, litter_id, at, MOST],
        )
    ]


def litters_before(dam_id: int, litter_id: int, kennel_id: int) -> int:
    """How many other litters of a dam are on record as born."""
    return int(
        _rows(
            "SELECT count(*) FROM litters_litter WHERE kennel_id = %s AND dam_id = %s AND id <> %s"
            " AND deleted_at IS NULL AND whelped_at IS NOT NULL",
            [kennel_id, dam_id, litter_id],
        )[0][0]
    )


def _facts(
    columns: str, table: str, dam_id: int, kennel_id: int, from_at: datetime, to_at: datetime
) -> list[tuple[Any, ...]]:
    return _rows(
        f"SELECT {columns} FROM {table} WHERE kennel_id = %s AND dam_id = %s AND deleted_at IS NULL"  # noqa: S608
        " AND occurred_at BETWEEN %s AND %s ORDER BY occurred_at, id LIMIT %s",
        [kennel_id, dam_id, from_at, to_at, MOST],
    )


def _rows(sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(cursor.fetchall())
