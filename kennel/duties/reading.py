"""Lists of the duties app: agenda, messages, choices.  One or two statements each, whatever their length."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties import channels
from kennel.duties.channels.registry import reachable_sql
from kennel.duties.services.rows import duty_type
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import Refusal
from kennel.records.store import INSTANT_FORMAT


@dataclass(frozen=True)
class Page:
    """Rows as JSON texts, and the key to go on after (None at the end)."""

    rows: list[str]
    next_key: tuple[datetime, int] | None


def agenda(
    door: Door,
    *,
    due_from: datetime | None = None,
    due_before: datetime | None = None,
    state: str | None = None,
    kind: str | None = None,
    after: tuple[datetime, int] | None = None,
    limit: int = 50,
) -> Page:
    """Duties in the order they are due, the first `limit` after a key.  Two statements."""
    conditions: list[tuple[str, Sequence[Any]]] = [
        ("kennel_id = %s AND deleted_at IS NULL", [door.kennel.id])
    ]
    if due_from is not None:
        conditions.append(("due_at >= %s", [due_from]))
    if due_before is not None:
        conditions.append(("due_at < %s", [due_before]))
    if state is not None:
        conditions.append(("state = %s", [str(state)]))
    if kind is not None:
        conditions.append(("kind = %s", [kind]))
    if after is not None:
        conditions.append(("(due_at, id) > (%s, %s)", list(after)))
    where = " AND ".join(text for text, _ in conditions)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT uid, due_at, id FROM duties_duty WHERE {where} ORDER BY due_at, id LIMIT %s",  # noqa: S608
            [*(value for _, values in conditions for value in values), limit + 1],
        )
        found = cursor.fetchall()
    shown = store.show(duty_type(), door.kennel.id, [row[0] for row in found[:limit]])
    more = len(found) > limit
    last = found[limit - 1] if more else None
    return Page([shown[row[0]].text for row in found[:limit]], (last[1], last[2]) if last else None)


def instant_sql(column: str) -> str:
    """SQL that shows an instant as the API writes it."""
    return f"to_char({column} AT TIME ZONE 'UTC', {INSTANT_FORMAT})"


_REMINDER = f"""
    SELECT json_build_object('uid', r.uid, 'kind', r.kind, 'duty', d.uid, 'duties', r.items, 'title', d.title,
        'due_at', {instant_sql("d.due_at")}, 'duty_state', d.state, 'carer', c.name, 'channel', r.channel,
            'step', r.step,
        'level', r.level, 'state', r.state, 'problem', r.problem, 'subject', r.subject, 'body', r.body,
        'released_at', {instant_sql("r.released_at")}, 'scheduled_at', {instant_sql("r.scheduled_at")},
        'next_attempt_at', {instant_sql("r.next_attempt_at")}, 'attempts', r.attempts, 'useful_until',
            {instant_sql("r.useful_until")},
        'accepted_at', {instant_sql("r.accepted_at")}, 'seen_at', {instant_sql("r.seen_at")})::text, r.released_at, r.id
    FROM duties_reminder r JOIN people_carer c ON c.id = r.carer_id
    LEFT JOIN duties_duty d ON d.kennel_id = r.kennel_id AND d.id = r.duty_id
"""  # noqa: S608 - constants of ours


def reminders(
    door: Door,
    *,
    mine: bool = True,
    state: str | None = None,
    unseen: bool = False,
    after: tuple[datetime, int] | None = None,
    limit: int = 50,
) -> Page:
    """Messages, newest first.

    mine: the caller's inbox, that is what reached it; else all on every channel.
    """
    conditions: list[tuple[str, Sequence[Any]]] = [("r.kennel_id = %s", [door.kennel.id])]
    if mine:
        conditions.append(
            (
                "r.carer_id = %s AND r.channel = 'inbox' AND r.held_in_id IS NULL AND r.accepted_at IS NOT NULL",
                [door.actor.carer_id or 0],
            )
        )
    if state is not None:
        conditions.append(("r.state = %s", [str(state)]))
    if unseen:
        conditions.append(("r.seen_at IS NULL", []))
    if after is not None:
        conditions.append(("(r.released_at, r.id) < (%s, %s)", list(after)))
    where = " AND ".join(text for text, _ in conditions)
    with connection.cursor() as cursor:
        cursor.execute(
            f"{_REMINDER} WHERE {where} ORDER BY r.released_at DESC, r.id DESC LIMIT %s",
            [*(value for _, values in conditions for value in values), limit + 1],
        )
        found = cursor.fetchall()
    more = len(found) > limit
    found = found[:limit]
    return Page([row[0] for row in found], (found[-1][1], found[-1][2]) if more else None)


def reminder(uid: UUID, door: Door) -> str:
    """One message as JSON text.  Raises Refusal("not-found")."""
    with connection.cursor() as cursor:
        cursor.execute(f"{_REMINDER} WHERE r.kennel_id = %s AND r.uid = %s", [door.kennel.id, uid])
        row = cursor.fetchone()
    if row is None:
        raise Refusal("not-found")
    return str(row[0])


def choices(door: Door) -> list[dict[str, Any]]:
    """What the caller chose to be told, for every channel this server can use."""
    names = [one.name for one in channels.every() if one.is_configured()]
    titles = {one.name: one.title for one in channels.every()}
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT n.name, COALESCE(p.is_on, true), COALESCE(p.digests_on, true), {reachable_sql("n.name")}
            FROM people_carer c CROSS JOIN unnest(%s::text[]) WITH ORDINALITY AS n (name, place)
            LEFT JOIN duties_reminderchoice p
                ON p.kennel_id = %s AND p.carer_id = c.id AND p.channel = n.name
            WHERE c.id = %s ORDER BY n.place
            """,  # noqa: S608 - conditions that the channels registered
            [names, door.kennel.id, door.actor.carer_id or 0],
        )
        return [
            {
                "channel": name,
                "title": titles[name],
                "is_on": on,
                "digests_on": digests,
                "is_reachable": reachable,
            }
            for name, on, digests, reachable in cursor.fetchall()
        ]
