"""Releasing: duties that are due become messages, once; what was missed during a stop is told in one message.

Runs inside the write door, for one kennel; duties and messages change in the same transaction.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties import channels, kinds, selectors
from kennel.duties.channels.registry import reachable_sql
from kennel.duties.choices import Level, ReminderState
from kennel.duties.domain import catch_up
from kennel.duties.domain.ladder import Rung, rungs
from kennel.duties.domain.rota import on_duty
from kennel.duties.services import digests, planning, rows
from kennel.records import store
from kennel.records.door import Door
from kennel.records.ids import new_uid

AT_ONCE = 500

_DUE = """
    SELECT json_build_object('id', d.id, 'uid', d.uid, 'routine_id', d.routine_id, 'kind', d.kind,
        'level', d.level,
        'due_at', d.due_at, 'useful_until', d.useful_until, 'escalate_after_s', d.escalate_after_s,
        'released_at', d.released_at, 'state', d.state, 'closed_at', d.closed_at,
        'from_completion', r.rule ->> 'from' = 'completion')::text
    FROM duties_duty d LEFT JOIN duties_routine r ON r.kennel_id = d.kennel_id AND r.id = d.routine_id
    WHERE d.kennel_id = %s AND d.state = 'open' AND d.deleted_at IS NULL
      AND ((d.released_at IS NULL AND d.due_at <= %s) OR d.useful_until <= %s)
    ORDER BY d.due_at, d.id LIMIT %s
"""


@dataclass(frozen=True)
class Released:
    """What one round did: duties released, late ones among them, missed ones."""

    released: int
    late: int
    missed: int
    is_all: bool


def release_due(door: Door) -> Released:
    """Turn duties that are due into messages, mark those past their use as missed; at most AT_ONCE."""
    with connection.cursor() as cursor:
        cursor.execute(_DUE, [door.kennel.id, door.at, door.at, AT_ONCE])
        due = {d["id"]: d for (text,) in cursor.fetchall() for d in [store.load(text)]}
    fresh = [d for d in due.values() if d["released_at"] is None]
    sorted_out = catch_up.sort_out(map(_waiting, fresh), door.at)
    over = [d["id"] for d in due.values() if d["released_at"] is not None]
    missed = [*sorted_out.missed, *over]
    _store_states(due, sorted_out, missed, door)
    ladders = _ladders([d for d in fresh if d["id"] not in sorted_out.missed], door)
    first_of_missed = _first_told([due[i] for i in sorted_out.missed], door)
    late = set(sorted_out.late)
    _write_messages(
        [
            *(_message(due[i], rung, who, channel, door) for i, rung, who, channel in _each(ladders)),
            *(
                {**_message(due[i], rung, who, channel, door), "state": ReminderState.MISSED.value}
                for i, rung, who, channel in _each(first_of_missed)
            ),
        ],
        door,
    )
    delayed = [*late, *sorted_out.missed]
    # After a stop there is one message: what is due this minute stands in it too.
    digests.gather_late(door, [*delayed, *sorted_out.on_time] if delayed else [])
    _end_messages(over, door)
    again = sorted({due[i]["routine_id"] for i in missed if due[i]["from_completion"]})
    planning.replan(again, door)
    return Released(len(sorted_out.on_time) + len(late), len(late), len(missed), len(due) < AT_ONCE)


def _waiting(duty: Mapping[str, Any]) -> catch_up.Waiting:
    return catch_up.Waiting(
        duty["id"],
        duty["routine_id"],
        datetime.fromisoformat(duty["due_at"]),
        datetime.fromisoformat(duty["useful_until"]),
    )


def _store_states(
    due: Mapping[int, Mapping[str, Any]], found: catch_up.Sorted, missed: Sequence[int], door: Door
) -> None:
    changes = [
        {"uid": UUID(due[i]["uid"]), "state": "open", "released_at": door.at}
        for i in (*found.on_time, *found.late)
    ]
    changes += [
        {"uid": UUID(due[i]["uid"]), "state": "missed", "released_at": due[i]["released_at"] or door.at}
        for i in missed
    ]
    before = {UUID(d["uid"]): {"state": d["state"], "released_at": d["released_at"]} for d in due.values()}
    rows.duties_update(changes, before, door)


def _ladders(duties: Sequence[Mapping[str, Any]], door: Door) -> dict[int, tuple[Rung, ...]]:
    """Who is told about each duty, step by step.  A late one begins now."""
    if not duties:
        return {}
    everybody = [person.carer_id for person in selectors.people_who_act(door)]
    starts = {d["id"]: _start(d, door) for d in duties}
    shifts = selectors.shifts_around(door, min(starts.values()), max(starts.values()))
    return {
        d["id"]: rungs(
            on_duty(shifts, starts[d["id"]], door.kennel.zone),
            everybody,
            starts[d["id"]],
            timedelta(seconds=d["escalate_after_s"]) if d["escalate_after_s"] else None,
        )
        for d in duties
    }


def _start(duty: Mapping[str, Any], door: Door) -> datetime:
    due_at = datetime.fromisoformat(duty["due_at"])
    return due_at if due_at >= door.at - catch_up.LATE else door.at


def _first_told(duties: Sequence[Mapping[str, Any]], door: Door) -> dict[int, tuple[Rung, ...]]:
    """Of a missed duty only those who are told first hear, once."""
    return {i: ladder[:1] for i, ladder in _ladders(duties, door).items()}


def _each(ladders: Mapping[int, tuple[Rung, ...]]) -> Iterable[tuple[int, Rung, int, str]]:
    names = [channel.name for channel in channels.every() if channel.is_configured()]
    for duty_id, ladder in ladders.items():
        for rung in ladder:
            for carer_id in rung.carers:
                for name in names:
                    yield duty_id, rung, carer_id, name


def _message(duty: Mapping[str, Any], rung: Rung, carer_id: int, channel: str, door: Door) -> dict[str, Any]:
    kind = kinds.by_name(duty["kind"])
    wakes = duty["level"] == Level.CRITICAL or (kind is not None and kind.wakes_night_duty)
    return {
        "uid": new_uid(),
        "duty_id": duty["id"],
        "carer_id": carer_id,
        "channel": channel,
        "step": rung.step,
        "level": duty["level"],
        "is_critical": duty["level"] == Level.CRITICAL,
        "wakes": wakes,
        "state": ReminderState.PENDING.value,
        "at": rung.at,
        "useful_until": duty["useful_until"],
    }


def _write_messages(messages: Sequence[Mapping[str, Any]], door: Door) -> None:
    """Store messages; one that exists already (same duty, carer, channel, step) stays as it is.

    Only on channels where the carer can be reached and that are not switched off.
    """
    if not messages:
        return
    instants = [m["at"] for m in messages]
    shifts = selectors.shifts_around(door, min(instants), max(instants))
    on_at = {at: {one.carer_id for one in on_duty(shifts, at, door.kennel.zone)} for at in set(instants)}
    through = [
        {**m, "through": m["is_critical"] or (m["wakes"] and m["carer_id"] in on_at[m["at"]])}
        for m in messages
    ]
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            INSERT INTO duties_reminder (kennel_id, uid, kind, duty_id, carer_id, channel, step, level,
                through_quiet,
                state, released_at, scheduled_at, next_attempt_at, attempts, useful_until, problem, subject,
                    body)
            SELECT %s, n.uid, 'duty', n.duty_id, n.carer_id, n.channel, n.step, n.level, n.through, n.state,
                %s,
                   n.at, CASE WHEN n.state = 'pending' THEN n.at END, 0, n.useful_until, '', '', ''
            FROM json_to_recordset(%s) AS n (uid uuid, duty_id bigint, carer_id bigint, channel text,
                step int,
                level text, through boolean, state text, at timestamptz, useful_until timestamptz)
            JOIN people_carer c ON c.id = n.carer_id
            LEFT JOIN duties_reminderchoice o
                ON o.kennel_id = %s AND o.carer_id = n.carer_id AND o.channel = n.channel
            WHERE COALESCE(o.is_on, true)
              AND {reachable_sql("n.channel")}
            ON CONFLICT DO NOTHING
            """,  # noqa: S608 - conditions that the channels registered
            [door.kennel.id, door.at, store.dump(through), door.kennel.id],
        )


def _end_messages(duty_ids: Sequence[int], door: Door) -> None:
    """Unsent messages of duties that are past their use: missed, or undelivered when sending was tried."""
    if not duty_ids:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder SET state = CASE WHEN attempts > 0 THEN 'undelivered' ELSE 'missed' END
            WHERE kennel_id = %s AND duty_id = ANY(%s) AND state = 'pending'
            """,
            [door.kennel.id, list(duty_ids)],
        )
