"""Done is a recorded fact: reactions of facts settle the animals of duties, in the fact's transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any, NamedTuple
from uuid import UUID

from django.db import connection

from kennel.duties import kinds
from kennel.duties.services import outcomes, planning
from kennel.records import store
from kennel.records.door import Door


class Done(NamedTuple):
    """A fact about one animal.  Leave out likely doubles: they would settle the next duty of the animal.

    at: when it happened.  duty: the duty the fact names; without, the nearest one it can stand for is found.
    kinds: only duties of these kinds (of those the fact's type closes).  match: only duties whose `asks`
    contain these values (JSON containment), such as {"medicine": uid}.
    """

    fact_uid: UUID
    subject_type: str
    subject_uid: UUID
    at: datetime
    duty: UUID | None = None
    kinds: tuple[str, ...] = ()
    match: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Completed:
    """An animal of a duty that a fact settled; is_closed: nothing of that duty is outstanding any more."""

    fact_uid: UUID
    duty_uid: UUID
    duty_kind: str
    subject_type: str
    subject_uid: UUID
    is_closed: bool


# The nearest duty of each kind for each fact: from `early` before it is due until it is no longer useful.  A
# fact recorded late closes the duty of its own hour, also one that counted as missed meanwhile.
_FIND = """
    SELECT place, animal_id, duty_id, uid, kind FROM (
        SELECT DISTINCT ON (n.place, d.kind) n.place, a.id AS animal_id, d.id AS duty_id, d.uid, d.kind
        FROM json_to_recordset(%s)
            AS n (place int, look int, subject_type text, subject_uid uuid, at timestamptz, duty uuid)
        JOIN json_to_recordset(%s) AS k (look int, early jsonb, match jsonb) ON k.look = n.look
        JOIN duties_dutyanimal a ON a.kennel_id = %s AND a.state = 'outstanding'
            AND a.subject_type = n.subject_type AND a.subject_uid = n.subject_uid
        JOIN duties_duty d ON d.kennel_id = a.kennel_id AND d.id = a.duty_id
        WHERE d.deleted_at IS NULL AND d.state IN ('open', 'missed') AND k.early ? d.kind
          AND (d.uid = n.duty OR (n.duty IS NULL AND d.asks @> k.match
               AND n.at >= d.due_at - make_interval(secs => (k.early ->> d.kind)::int)
                   AND n.at <= d.useful_until))
        ORDER BY n.place, d.kind, abs(extract(epoch FROM d.due_at - n.at)), d.due_at, d.id) found
    ORDER BY place, duty_id
"""


def complete(fact_type: str, done: Sequence[Done], door: Door) -> list[Completed]:
    """Settle what these facts (records of type `fact_type`) were asked for, and call off unsent messages.

    One fact settles at most one duty of each kind.  A fact that nobody asked for settles nothing and is as
    welcome.  Gives what was settled.  Four statements, however many facts and animals.
    """
    early = {kind.name: int(kind.early.total_seconds()) for kind in kinds.done_by(fact_type)}
    if not done or not early:
        return []
    # What a fact may stand for (kinds, match) is the same for most of a list: it travels once.
    looks: dict[tuple[tuple[str, ...], str], int] = {}
    asked = [
        {
            "place": place,
            "look": looks.setdefault((one.kinds, store.dump(one.match) if one.match else "{}"), len(looks)),
            "subject_type": one.subject_type,
            "subject_uid": one.subject_uid,
            "at": one.at,
            "duty": one.duty,
        }
        for place, one in enumerate(done)
    ]
    ways = [
        {
            "look": look,
            "early": {name: s for name, s in early.items() if not names or name in names},
            "match": store.load(match),
        }
        for (names, match), look in looks.items()
    ]
    with connection.cursor() as cursor:
        cursor.execute(_FIND, [store.dump(asked), store.dump(ways), door.kennel.id])
        found = cursor.fetchall()
    first: dict[int, tuple[Any, ...]] = {}
    for row in found:
        first.setdefault(row[1], row)
    settled = [
        {"id": animal_id, "at": done[row[0]].at, "uid": done[row[0]].fact_uid}
        for animal_id, row in first.items()
    ]
    turned = _settle(settled, fact_type, "done", door, [row[2] for row in first.values()])
    return [
        Completed(
            done[place].fact_uid,
            duty_uid,
            kind,
            done[place].subject_type,
            done[place].subject_uid,
            duty_id in turned.closed,
        )
        for place, _, duty_id, duty_uid, kind in first.values()
    ]


def _settle(
    settled: Sequence[Mapping[str, Any]], type_name: str, state: str, door: Door, duty_ids: Sequence[int]
) -> outcomes.Turned:
    if not settled:
        return outcomes.Turned((), ())
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_dutyanimal a SET state = %s, settled_at = n.at, settled_by_id = %s,
                settled_type = %s,
                   settled_uid = n.uid, reason = COALESCE(n.reason, ''), deferred_until = n.until
            FROM json_to_recordset(%s)
                AS n (id bigint, at timestamptz, uid uuid, reason text, until timestamptz)
            WHERE a.kennel_id = %s AND a.id = n.id AND a.state = 'outstanding'
            """,
            [state, door.actor.carer_id, type_name, store.dump(settled), door.kennel.id],
        )
    return _follow(outcomes.refresh(duty_ids, door, outcome_changed=True), duty_ids, door)


def settle(
    settled: Sequence[Mapping[str, Any]], state: str, door: Door, duty_ids: Sequence[int]
) -> outcomes.Turned:
    """Settle animals by a duty action: rows of id (of the animal), at, uid (of the action), reason, until."""
    return _settle(settled, "duty-action", state, door, duty_ids)


def uncomplete(fact_type: str, fact_uids: Sequence[UUID], door: Door) -> int:
    """Take back what these facts settled (they were deleted, undone, or moved to another animal).

    Their animals are outstanding again and messages that were called off unsent come back.  Gives how many
    animals that were.
    """
    if not fact_uids:
        return 0
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_dutyanimal SET state = 'outstanding', settled_at = NULL, settled_by_id = NULL,
                   settled_type = '', settled_uid = NULL, reason = '', deferred_until = NULL
            WHERE kennel_id = %s AND settled_type = %s AND settled_uid = ANY(%s::uuid[])
            RETURNING duty_id
            """,
            [door.kennel.id, fact_type, store.array(fact_uids)],
        )
        duty_ids = [row[0] for row in cursor.fetchall()]
    _follow(outcomes.refresh(duty_ids, door, outcome_changed=True), duty_ids, door)
    return len(duty_ids)


def _follow(turned: outcomes.Turned, duty_ids: Sequence[int], door: Door) -> outcomes.Turned:
    """Routines that run from completion have their next duty only now."""
    if not turned.closed and not turned.reopened:
        return turned
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT r.id FROM duties_duty d
            JOIN duties_routine r ON r.kennel_id = d.kennel_id AND r.id = d.routine_id
            WHERE d.kennel_id = %s AND d.id = ANY(%s) AND r.rule ->> 'from' = 'completion'
            ORDER BY r.id
            """,
            [door.kennel.id, [*turned.closed, *turned.reopened]],
        )
        planning.replan([row[0] for row in cursor.fetchall()], door)
    return turned
