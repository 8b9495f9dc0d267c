"""Animals put off to their own date: a duty of their own follows, and runs on from there."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties import kinds
from kennel.duties.domain.planner import DEFERRED
from kennel.duties.services import outcomes, planning, rows
from kennel.records import store
from kennel.records.door import Door
from kennel.records.ids import new_uid

_COPIED = ("kind", "title", "level", "escalate_after_s", "text", "asks", "cautions")


def put_off(deferrals: Sequence[tuple[Mapping[str, Any], Sequence[kinds.Animal]]], door: Door) -> None:
    """Make a duty for the animals of each deferral (an action with uid, duty_id and until, as JSON values).

    It belongs to the same routine, so it follows the plan and the facts like any other that lies ahead.
    """
    if not deferrals:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('id', d.id, 'routine_id', d.routine_id, 'kind', d.kind, 'title', d.title,
                'level', d.level, 'escalate_after_s', d.escalate_after_s, 'text', d.text, 'asks', d.asks,
                'cautions', d.cautions, 'due_at', d.due_at, 'useful_until', d.useful_until)::text
            FROM duties_duty d WHERE d.kennel_id = %s AND d.id = ANY(%s)
            """,
            [door.kennel.id, sorted({action["duty_id"] for action, _ in deferrals})],
        )
        duties = {duty["id"]: duty for (text,) in cursor.fetchall() for duty in [store.load(text)]}
    made = [_following(duties[action["duty_id"]], action, animals) for action, animals in deferrals]
    ids = rows.duties_insert(made, door)
    rows.animals_write(
        [
            {
                "duty_id": ids[duty["uid"]],
                "place": place,
                "subject_type": animal.subject_type,
                "subject_uid": animal.subject_uid,
                "name": animal.name,
                "asks": dict(animal.asks),
            }
            for duty, (_, animals) in zip(made, deferrals, strict=True)
            for place, animal in enumerate(animals)
        ],
        door,
    )
    planning.replan(sorted({d["routine_id"] for d in made if d["routine_id"]}), door)


def _following(
    duty: Mapping[str, Any], action: Mapping[str, Any], animals: Sequence[kinds.Animal]
) -> dict[str, Any]:
    until = datetime.fromisoformat(action["until"])
    useful_for = datetime.fromisoformat(duty["useful_until"]) - datetime.fromisoformat(duty["due_at"])
    return {
        **{name: duty[name] for name in _COPIED},
        "uid": new_uid(),
        "routine_id": duty["routine_id"],
        "follows_id": duty["id"],
        "occurrence": f"{DEFERRED}{action['uid']}",
        "due_at": until,
        "useful_until": until + useful_for,
        "subjects": [{"type": a.subject_type, "uid": str(a.subject_uid)} for a in animals],
        "state": "open",
        "outstanding": len(animals),
    }


def call_off(action_uids: Sequence[UUID], door: Door) -> None:
    """Cancel duties that followed from deferrals that were taken back, unless something was done."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT d.id, d.uid, d.state FROM duties_duty d
            WHERE d.kennel_id = %s AND d.occurrence = ANY(%s) AND d.state = 'open'
              AND NOT EXISTS (SELECT FROM duties_dutyanimal a WHERE a.kennel_id = d.kennel_id
                              AND a.duty_id = d.id AND a.state <> 'outstanding')
            """,
            [door.kennel.id, [f"{DEFERRED}{uid}" for uid in action_uids]],
        )
        found = cursor.fetchall()
    rows.duties_update(
        [{"uid": uid, "state": "cancelled"} for _, uid, _ in found],
        {uid: {"state": state} for _, uid, state in found},
        door,
    )
    outcomes.cancel_reminders([duty_id for duty_id, _, _ in found], door)
