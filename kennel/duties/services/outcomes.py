"""What became of duties: their state follows from their animals; unsent messages follow from their state."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties.choices import DutyState
from kennel.duties.services import rows
from kennel.records import store
from kennel.records.door import Door

_COUNTED = """
    SELECT json_build_object('id', d.id, 'uid', d.uid, 'state', d.state, 'outstanding', d.outstanding,
        'closed_at', d.closed_at, 'animals_changed_at', d.animals_changed_at, 'useful_until', d.useful_until,
        'routine_id', d.routine_id, 'waiting', c.waiting, 'settled', c.settled, 'last_at', c.last_at)::text
    FROM duties_duty d CROSS JOIN LATERAL (
        SELECT count(*) FILTER (WHERE a.state = 'outstanding') AS waiting,
               count(*) FILTER (WHERE a.state <> 'outstanding') AS settled, max(a.settled_at) AS last_at
        FROM duties_dutyanimal a WHERE a.kennel_id = d.kennel_id AND a.duty_id = d.id) c
    WHERE d.kennel_id = %s AND d.id = ANY(%s) ORDER BY d.id
"""


@dataclass(frozen=True)
class Turned:
    """Duties that were closed by a refresh, and those that were opened again, by internal id."""

    closed: tuple[int, ...]
    reopened: tuple[int, ...]


def refresh(duty_ids: Sequence[int], door: Door, *, outcome_changed: bool = False) -> Turned:
    """Make state and counts of duties follow from their animals, and their unsent messages from their state.

    outcome_changed: mark the duty as changed even when the count stays (a deferral moved to another date).
    """
    if not duty_ids:
        return Turned((), ())
    with connection.cursor() as cursor:
        cursor.execute(_COUNTED, [door.kennel.id, sorted(set(duty_ids))])
        counted = [store.load(row[0]) for row in cursor.fetchall()]
    changes, before = [], {}
    closed, reopened = [], []
    for duty in counted:
        state, closed_at = _state_after(duty, door.at)
        columns = {
            "uid": UUID(duty["uid"]),
            "state": state,
            "outstanding": duty["waiting"],
            "closed_at": closed_at,
            "animals_changed_at": door.at if outcome_changed else duty["animals_changed_at"],
        }
        old = {c: duty[c] for c in columns if c != "uid"}
        if all(old[c] == columns[c] for c in old):
            continue
        changes.append(columns)
        before[columns["uid"]] = old
        if state == DutyState.CLOSED != duty["state"]:
            closed.append(duty["id"])
        if duty["state"] == DutyState.CLOSED != state:
            reopened.append(duty["id"])
    rows.duties_update(changes, before, door)
    cancel_reminders(closed, door)
    revive_reminders(reopened, door)
    return Turned(tuple(closed), tuple(reopened))


def _state_after(duty: dict[str, Any], at: datetime) -> tuple[str, Any]:
    """State and closing instant of a duty from its animals.  Closed: the instant of the last outcome."""
    if duty["state"] == DutyState.CANCELLED:
        return DutyState.CANCELLED, None
    if duty["waiting"] == 0 and duty["settled"]:
        return DutyState.CLOSED, duty["last_at"]
    if duty["state"] == DutyState.CLOSED:
        useful = datetime.fromisoformat(duty["useful_until"]) > at
        return (DutyState.OPEN if useful else DutyState.MISSED), None
    return duty["state"], None


def cancel_reminders(duty_ids: Sequence[int], door: Door) -> int:
    """Call off the unsent messages about duties; a send that has begun may still arrive.  Gives how many."""
    if not duty_ids:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE duties_reminder SET state = 'cancelled' "
            "WHERE kennel_id = %s AND duty_id = ANY(%s) AND state = 'pending'",
            [door.kennel.id, list(duty_ids)],
        )
        return int(cursor.rowcount)


def revive_reminders(duty_ids: Sequence[int], door: Door) -> int:
    """Bring back messages that were called off before anybody tried to send them (a tap was undone)."""
    if not duty_ids:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder r SET state = 'pending', next_attempt_at = GREATEST(r.scheduled_at, %s),
                   claim_token = NULL, held_in_id = NULL
            FROM duties_duty d
            WHERE d.kennel_id = r.kennel_id AND d.id = r.duty_id AND d.state = 'open'
              AND r.kennel_id = %s AND r.duty_id = ANY(%s) AND r.state = 'cancelled' AND r.accepted_at IS NULL
            """,
            [door.at, door.kennel.id, list(duty_ids)],
        )
        return int(cursor.rowcount)
