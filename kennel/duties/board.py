"""The board: what is due now and next, who is on it, who is on duty, what to keep an eye on."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties import selectors
from kennel.duties.domain.rota import on_duty, spans
from kennel.duties.services.rows import duty_type
from kennel.records import store
from kennel.records.door import Door

NEXT = timedelta(hours=24)
MISSED = timedelta(hours=24)
MOST = 100


@dataclass(frozen=True)
class Entry:
    """Something to keep an eye on: level (info, due, critical), a sentence, the animal, since when."""

    level: str
    text: str
    subject_type: str = ""
    subject_uid: UUID | None = None
    name: str = ""
    since: datetime | None = None
    reasons: tuple[str, ...] = ()


Hook = Callable[[Door], Sequence[Entry]]
_hooks: list[Hook] = []


def register(hook: Hook) -> None:
    """Add entries to the board: hook(door) gives those that stand now, in a fixed number of queries."""
    _hooks.append(hook)


@dataclass(frozen=True)
class Board:
    """Everything on the board; duties as the JSON texts the API shows."""

    at: datetime
    due: list[str]
    next: list[str]
    missed: list[str]
    on_duty: list[dict[str, Any]]
    then_on_duty: list[dict[str, Any]]
    keep_an_eye_on: list[dict[str, Any]]
    reminders_age_s: float | None


def board(door: Door, at: datetime) -> Board:
    """The board at an instant.  A fixed number of statements, however many animals, duties and people."""
    sections = _duties(door, at)
    now, then = _rota(door, at)
    entries = [asdict(entry) for hook in _hooks for entry in hook(door)]
    entries.sort(key=lambda e: ("critical", "due", "info").index(e["level"]))
    age = selectors.tick_age(at)
    return Board(at, sections["due"], sections["next"], sections["missed"], now, then, entries[:MOST], age)


def _duties(door: Door, at: datetime) -> dict[str, list[str]]:
    """JSON texts of open duties that are due, those of the next 24 hours, and those missed in the last."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            (SELECT uid, 'due' FROM duties_duty WHERE kennel_id = %s AND state = 'open' AND deleted_at IS NULL
               AND due_at <= %s ORDER BY due_at, id LIMIT %s)
            UNION ALL
            (SELECT uid, 'next' FROM duties_duty WHERE kennel_id = %s AND state = 'open'
                AND deleted_at IS NULL
               AND due_at > %s AND due_at <= %s ORDER BY due_at, id LIMIT %s)
            UNION ALL
            (SELECT uid, 'missed' FROM duties_duty WHERE kennel_id = %s AND state = 'missed'
                AND deleted_at IS NULL
               AND due_at > %s ORDER BY due_at DESC, id DESC LIMIT %s)
            """,
            [
                door.kennel.id,
                at,
                MOST,
                door.kennel.id,
                at,
                at + NEXT,
                MOST,
                door.kennel.id,
                at - MISSED,
                MOST,
            ],
        )
        places = cursor.fetchall()
    shown = store.show(duty_type(), door.kennel.id, [uid for uid, _ in places])
    sections: dict[str, list[str]] = {"due": [], "next": [], "missed": []}
    for uid, section in places:
        sections[section].append(shown[uid].text)
    return sections


def _rota(door: Door, at: datetime) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Who is on duty now, and whose shifts begin next, within a day."""
    people = {person.carer_id: person for person in selectors.people_who_act(door)}
    shifts = [s for s in selectors.shifts_around(door, at, at + NEXT) if s.carer_id in people]
    now = [
        {"member": people[one.carer_id].member_uid, "name": people[one.carer_id].name, "rank": one.rank}
        | {"since": one.since, "until": one.until}
        for one in on_duty(shifts, at, door.kennel.zone)
    ]
    ahead = [
        {"member": people[s.carer_id].member_uid, "name": people[s.carer_id].name, "rank": s.rank}
        | {"since": since, "until": until}
        for s in shifts
        for since, until in spans(s, at + NEXT, door.kennel.zone)
        if at < since <= at + NEXT
    ]
    return now, sorted(ahead, key=lambda one: (one["since"], one["rank"], one["name"]))[:MOST]
