"""What was planned, sent, held and missed: every duty of a stretch of time with all its messages."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

from django.db import connection

from kennel.records import store
from kennel.records.door import Door

MOST = 5000


def audit(door: Door, start: datetime, end: datetime) -> list[dict[str, Any]]:
    """Duties due from start to end (excluded), oldest first, each with its animals and messages.

    One statement.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('uid', d.uid, 'kind', d.kind, 'title', d.title, 'due_at', d.due_at,
                'occurrence', d.occurrence, 'level', d.level, 'useful_until', d.useful_until,
                    'state', d.state,
                'is_deleted', d.deleted_at IS NOT NULL, 'planned_at', d.recorded_at,
                    'released_at', d.released_at,
                'closed_at', d.closed_at, 'taken_by', taker.name, 'taken_at', d.taken_at,
                'animals', (
                    SELECT json_agg(json_build_object('name', a.name, 'state', a.state, 'reason', a.reason,
                        'settled_at', a.settled_at, 'settled_by', s.name, 'settled_type', a.settled_type)
                        ORDER BY a.place, a.id)
                    FROM duties_dutyanimal a LEFT JOIN people_carer s ON s.id = a.settled_by_id
                    WHERE a.kennel_id = d.kennel_id AND a.duty_id = d.id),
                'messages', (
                    SELECT json_agg(json_build_object('carer', c.name, 'channel', r.channel, 'step', r.step,
                        'state', r.state, 'scheduled_at', r.scheduled_at,
                            'next_attempt_at', r.next_attempt_at,
                        'attempts', r.attempts, 'accepted_at', r.accepted_at, 'seen_at', r.seen_at,
                        'problem', r.problem, 'in_digest', r.held_in_id IS NOT NULL)
                        ORDER BY r.step, c.name, r.channel)
                    FROM duties_reminder r JOIN people_carer c ON c.id = r.carer_id
                    WHERE r.kennel_id = d.kennel_id AND r.duty_id = d.id))::text
            FROM duties_duty d LEFT JOIN people_carer taker ON taker.id = d.taken_by_id
            WHERE d.kennel_id = %s AND d.due_at >= %s AND d.due_at < %s ORDER BY d.due_at, d.id LIMIT %s
            """,
            [door.kennel.id, start, end, MOST],
        )
        return [store.load(row[0]) for row in cursor.fetchall()]


def lines(duty: Mapping[str, Any], clock: Callable[[str | None], str]) -> Iterator[str]:
    """One duty in words, a line for itself, one for its animals and one for each message."""
    gone = ", deleted" if duty["is_deleted"] else ""
    yield f"{clock(duty['due_at'])}  {duty['title']} [{duty['kind']}, {duty['level']}]: {duty['state']}{gone}"
    yield (
        f"    planned {clock(duty['planned_at'])}, released {clock(duty['released_at'])},"
        f" useful until {clock(duty['useful_until'])}, closed {clock(duty['closed_at'])}"
    )
    if duty["taken_by"]:
        yield f"    taken by {duty['taken_by']} at {clock(duty['taken_at'])}"
    for animal in duty["animals"] or ():
        by = f" by {animal['settled_by']}" if animal["settled_by"] else ""
        why = f" ({animal['reason']})" if animal["reason"] else ""
        yield f"    {animal['name']}: {animal['state']} {clock(animal['settled_at'])}{by}{why}"
    for one in duty["messages"] or ():
        told = " in a digest" if one["in_digest"] else ""
        yield (
            f"    step {one['step']} {one['channel']} to {one['carer']}: {one['state']}{told},"
            f" for {clock(one['scheduled_at'])}, {one['attempts']} attempts,"
            f" accepted {clock(one['accepted_at'])}, seen {clock(one['seen_at'])}"
            + (f", {one['problem']}" if one["problem"] else "")
        )
