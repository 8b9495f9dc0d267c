"""One message instead of many: what quiet hours held back, and what a stop of the server delayed.

At most one digest waits per carer and channel; `held_in` says which messages it will tell about.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import connection

from kennel.duties.domain.catch_up import LATE
from kennel.records import store
from kennel.records.door import Door
from kennel.records.ids import new_uid

USEFUL_FOR = timedelta(hours=12)

# A digest that is being sent at this moment keeps its lease; what it does not tell is taken up again
# afterwards.
_OPEN = """
    INSERT INTO duties_reminder AS r (kennel_id, uid, kind, carer_id, channel, step, level, through_quiet,
        state,
        released_at, scheduled_at, next_attempt_at, attempts, useful_until, problem, subject, body)
    SELECT n.kennel_id, n.uid, 'digest', n.carer_id, n.channel, 0, n.level, n.through,
           'pending', n.now, n.at, n.at, 0, n.useful_until, '', '', ''
    FROM json_to_recordset(%s) AS n (kennel_id bigint, uid uuid, carer_id bigint, channel text, level text,
        through boolean, now timestamptz, at timestamptz, useful_until timestamptz)
    ON CONFLICT (kennel_id, carer_id, channel) WHERE kind = 'digest' AND state = 'pending' DO UPDATE SET
        next_attempt_at = CASE WHEN r.claim_token IS NULL
                               THEN LEAST(r.next_attempt_at,
                                   excluded.next_attempt_at) ELSE r.next_attempt_at END,
        through_quiet = r.through_quiet OR excluded.through_quiet,
        level = CASE WHEN 'critical' IN (r.level, excluded.level) THEN 'critical'
                     WHEN 'due' IN (r.level, excluded.level) THEN 'due' ELSE 'info' END,
        useful_until = GREATEST(r.useful_until, excluded.useful_until)
    RETURNING r.id, r.carer_id, r.channel
"""


def open_digests(cursor: Any, wanted: Sequence[dict[str, Any]], now: datetime) -> dict[tuple[int, str], int]:
    """Make or extend the waiting digest of each (carer, channel); gives their ids.

    wanted: kennel_id, carer_id, channel, level, through, at (when to send).  cursor: of the app role inside
    the door, or of the jobs role.
    """
    if not wanted:
        return {}
    rows = [{**w, "uid": new_uid(), "now": now, "useful_until": w["at"] + USEFUL_FOR} for w in wanted]
    cursor.execute(_OPEN, [store.dump(rows)])
    return {(carer, channel): identifier for identifier, carer, channel in cursor.fetchall()}


def gather_late(door: Door, duty_ids: Sequence[int]) -> int:
    """Put the first messages of these late or missed duties, and late unsent ones, into digests of now.

    Gives how many messages wait in them.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT r.id, r.carer_id, r.channel, r.level, r.through_quiet AND r.state = 'pending'
            FROM duties_reminder r
            WHERE r.kennel_id = %s AND r.kind = 'duty' AND r.held_in_id IS NULL AND r.attempts = 0
              AND ((r.duty_id = ANY(%s) AND r.step = 0 AND r.state IN ('pending', 'missed'))
                OR (r.state = 'pending' AND r.next_attempt_at < %s))
            """,
            [door.kennel.id, list(duty_ids), door.at - LATE],
        )
        late = cursor.fetchall()
        wanted: dict[tuple[int, str], dict[str, Any]] = {}
        for _, carer_id, channel, level, through in late:
            one = wanted.setdefault(
                (carer_id, channel),
                {
                    "kennel_id": door.kennel.id,
                    "carer_id": carer_id,
                    "channel": channel,
                    "level": level,
                    "through": through,
                    "at": door.at,
                },
            )
            one["through"] = one["through"] or through
            one["level"] = _louder(one["level"], level)
        digests = open_digests(cursor, list(wanted.values()), door.at)
        hold(cursor, door.kennel.id, {r[0]: digests[r[1], r[2]] for r in late})
    return len(late)


def _louder(one: str, other: str) -> str:
    order = ("info", "due", "critical")
    return max(one, other, key=order.index)


def hold(cursor: Any, kennel_id: int, digest_of: dict[int, int]) -> None:
    """Let digests tell about these messages: message id -> digest id."""
    if not digest_of:
        return
    cursor.execute(
        """
        UPDATE duties_reminder r SET held_in_id = n.digest_id, next_attempt_at = NULL, claim_token = NULL,
               attempts = 0
        FROM json_to_recordset(%s) AS n (id bigint, digest_id bigint)
        WHERE r.kennel_id = %s AND r.id = n.id AND r.state IN ('pending', 'missed')
        """,
        [store.dump([{"id": i, "digest_id": d} for i, d in digest_of.items()]), kennel_id],
    )
