"""Reads of the duties app: who can be told what, who is on duty, what ticks did."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection, connections

from kennel.duties.domain.rota import OnDuty, ShiftTimes, on_duty
from kennel.records.door import Door, KennelHere

JOBS = "jobs"
ESSENTIAL_TICKS = ("plan", "release", "send:inbox", "send:email")
STALE_S = 60.0


@dataclass(frozen=True)
class Person:
    """Somebody who may act in this kennel: keepers and carers (readers are never told)."""

    carer_id: int
    member_uid: str
    name: str
    role: str


def people_who_act(door: Door) -> list[Person]:
    """Keepers and carers of the kennel, keepers first, at most 200."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT c.id, m.uid::text, c.name, m.role FROM people_membership m
            JOIN people_carer c ON c.id = m.carer_id
            WHERE m.kennel_id = %s AND m.ended_at IS NULL AND m.role IN ('keeper', 'carer') AND c.is_active
            ORDER BY m.role = 'keeper' DESC, c.name, c.id LIMIT 200
            """,
            [door.kennel.id],
        )
        return [Person(*row) for row in cursor.fetchall()]


def shifts_around(door: Door, since: datetime, until: datetime) -> list[ShiftTimes]:
    """Shifts of present members that may cover an instant between since and until."""
    margin = timedelta(days=3)
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT m.carer_id, s.first_on, s.last_on, s.from_time, s.until_time, s.weekdays::text, s.rank
            FROM duties_shift s JOIN people_membership m ON m.kennel_id = s.kennel_id AND m.id = s.member_id
            WHERE s.kennel_id = %s AND s.deleted_at IS NULL AND m.ended_at IS NULL
              AND s.first_on <= %s AND (s.last_on IS NULL OR s.last_on >= %s)
            ORDER BY s.rank, s.id LIMIT 1000
            """,
            [door.kennel.id, (until + margin).date(), (since - margin).date()],
        )
        return [
            ShiftTimes(carer, first, last, begin, end, tuple(_numbers(days)), rank)
            for carer, first, last, begin, end, days, rank in cursor.fetchall()
        ]


def _numbers(text: str) -> list[int]:
    return [int(part) for part in text.strip("[]").split(",") if part.strip()]


def on_duty_now(door: Door, at: datetime) -> list[OnDuty]:
    """Who is on duty at an instant, the first to be told first."""
    return on_duty(shifts_around(door, at, at), at, door.kennel.zone)


def kennels_here(kennel_ids: Sequence[int]) -> list[KennelHere]:
    """Kennels by internal id, in the order given: for ticks, which know ids only."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id, uid, name, zone, place FROM people_kennel WHERE id = ANY(%s)", [list(kennel_ids)]
        )
        found = {row[0]: KennelHere(*row) for row in cursor.fetchall()}
    return [found[identifier] for identifier in kennel_ids if identifier in found]


def kennel_here(uid: UUID) -> KennelHere | None:
    """A kennel by its uid: for signed links, which carry their own permission."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT id, uid, name, zone, place FROM people_kennel WHERE uid = %s", [uid])
        row = cursor.fetchone()
    return KennelHere(*row) if row else None


def kennel_ids_by(sql: str, values: Sequence[Any]) -> list[int]:
    """Ids of kennels with work, read by the jobs role, which sees all of them."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute(sql, values)
        return [row[0] for row in cursor.fetchall()]


def tick_ages(now: datetime) -> dict[str, float | None]:
    """Seconds since each essential tick last ran; None for one that never did."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, ran_at FROM duties_tick WHERE ran_at IS NOT NULL")
        ran = dict(cursor.fetchall())
    return {name: (now - ran[name]).total_seconds() if name in ran else None for name in ESSENTIAL_TICKS}


def tick_age(now: datetime) -> float | None:
    """Seconds since the slowest of the essential ticks last ran; None when one never did.

    More than STALE_S (or None, once the server has been up for a minute): reminders are not running.
    """
    ages = tick_ages(now).values()
    return None if None in ages else max(age for age in ages if age is not None)


def tick_failures() -> dict[str, int]:
    """In how many kennels the last run of each tick failed; empty when all went well.  The log says why."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, failures FROM duties_tick WHERE failures > 0 ORDER BY name")
        return dict(cursor.fetchall())
