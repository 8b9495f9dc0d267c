"""Claiming and finishing messages, as the jobs role: short statements, no transaction open while sending.

A claim writes a token and moves `next_attempt_at` a lease ahead; finishing needs the token.  A sender that
dies leaves nothing behind but a lease that lapses; one that was overtaken writes nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import connections, transaction

from kennel.duties import channels
from kennel.duties.domain.catch_up import LATE
from kennel.duties.domain.delivery import LEASE
from kennel.duties.services import digests
from kennel.records import store

JOBS = "jobs"


@dataclass(frozen=True)
class Claim:
    """Messages that are ours until the lease lapses."""

    token: UUID
    ids: tuple[int, ...]
    at: datetime


def claim(channel: str, at: datetime, limit: int) -> Claim:
    """Take messages of a channel that are due.

    Never tried ones that are late wait for their digest instead.
    """
    token = uuid4()
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            """
            WITH due AS (
                SELECT id FROM duties_reminder
                WHERE state = 'pending' AND channel = %s AND next_attempt_at <= %s
                  AND (attempts > 0 OR kind = 'digest' OR next_attempt_at >= %s)
                ORDER BY next_attempt_at, id LIMIT %s FOR NO KEY UPDATE SKIP LOCKED)
            UPDATE duties_reminder r SET claim_token = %s, next_attempt_at = %s, attempts = r.attempts + 1
            FROM due WHERE r.id = due.id RETURNING r.id
            """,
            [channel, at, at - LATE, limit, token, at + LEASE],
        )
        return Claim(token, tuple(sorted(row[0] for row in cursor.fetchall())), at)


@dataclass(frozen=True)
class End:
    """How an attempt ended: the state to store, and when to go on (None: it is over)."""

    id: int
    state: str
    problem: str = ""
    again_at: datetime | None = None
    is_attempt: bool = True


def finish(claimed: Claim, ends: Sequence[End]) -> int:
    """Store how attempts ended; gives how many were still ours.

    A message called off while it was being sent stays called off, and keeps the instant it was accepted at.
    """
    if not ends:
        return 0
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder r SET
                state = CASE WHEN r.state = 'pending' THEN n.state ELSE r.state END,
                problem = n.problem, next_attempt_at = n.again_at, claim_token = NULL,
                attempts = r.attempts - CASE WHEN n.is_attempt THEN 0 ELSE 1 END
            FROM json_to_recordset(%s)
                AS n (id bigint, state text, problem text, again_at timestamptz, is_attempt boolean)
            WHERE r.id = n.id AND r.claim_token = %s
            """,
            [store.dump([_row(end) for end in ends]), claimed.token],
        )
        return int(cursor.rowcount)


def _row(end: End) -> dict[str, Any]:
    return {
        "id": end.id,
        "state": end.state,
        "problem": end.problem[:200],
        "again_at": end.again_at,
        "is_attempt": end.is_attempt,
    }


_ACCEPTED = """
    UPDATE duties_reminder SET state = CASE WHEN state = 'pending' THEN 'accepted' ELSE state END,
        accepted_at = %s, subject = %s, body = %s, problem = '', claim_token = NULL, next_attempt_at = NULL
    WHERE id = %s AND claim_token = %s
"""


def accepted(claimed: Claim, reminder_id: int, at: datetime, subject: str, body: str) -> bool:
    """Store that the provider took a message about one duty.  False: it was not ours any more."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute(_ACCEPTED, [at, subject, body, reminder_id, claimed.token])
        return bool(cursor.rowcount == 1)


def digest_accepted(
    claimed: Claim, digest_id: int, at: datetime, subject: str, body: str, told: Sequence[int]
) -> bool:
    """Store that the provider took a digest, and with it the messages it told of.

    False: not ours any more.
    """
    with transaction.atomic(using=JOBS), connections[JOBS].cursor() as cursor:
        cursor.execute(_ACCEPTED, [at, subject, body, digest_id, claimed.token])
        if cursor.rowcount != 1:
            return False
        cursor.execute(
            """
            WITH told AS (
                UPDATE duties_reminder SET state = CASE WHEN state = 'pending' THEN 'accepted' ELSE state END,
                    accepted_at = %s, next_attempt_at = NULL
                WHERE held_in_id = %s AND id = ANY(%s) RETURNING kennel_id, duty_id)
            UPDATE duties_reminder SET items = COALESCE((
                SELECT jsonb_agg(DISTINCT d.uid) FROM told t
                JOIN duties_duty d ON d.kennel_id = t.kennel_id AND d.id = t.duty_id), '[]')
            WHERE id = %s
            """,
            [at, digest_id, list(told), digest_id],
        )
        _let_go(cursor, digest_id, at)
    return True


def _let_go(cursor: Any, digest_id: int, at: datetime) -> None:
    """What joined a digest while it was being sent goes on by itself."""
    cursor.execute(
        """
        UPDATE duties_reminder SET held_in_id = NULL, next_attempt_at = %s
        WHERE held_in_id = %s AND state = 'pending' AND accepted_at IS NULL
        """,
        [at, digest_id],
    )


def end_digest(claimed: Claim, digest_id: int, state: str, problem: str, members: Sequence[int]) -> None:
    """End a digest that will not be sent (nothing left to say, outcome unknown) with these members."""
    with transaction.atomic(using=JOBS), connections[JOBS].cursor() as cursor:
        cursor.execute(
            "UPDATE duties_reminder SET state = %s, problem = %s, claim_token = NULL, next_attempt_at = NULL "
            "WHERE id = %s AND claim_token = %s AND state = 'pending'",
            [state, problem[:200], digest_id, claimed.token],
        )
        if cursor.rowcount != 1:
            return
        cursor.execute(
            "UPDATE duties_reminder SET state = %s, problem = %s WHERE held_in_id = %s AND id = ANY(%s) "
            "AND state = 'pending'",
            [state, problem[:200], digest_id, list(members)],
        )
        _let_go(cursor, digest_id, claimed.at)


def drop_members(digest_id: int, members: Sequence[int]) -> None:
    """Messages in a digest whose duty is done or called off by now."""
    if not members:
        return
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            "UPDATE duties_reminder SET state = 'cancelled' WHERE held_in_id = %s AND id = ANY(%s) "
            "AND state = 'pending'",
            [digest_id, list(members)],
        )


def hold_back(claimed: Claim, held: Sequence[tuple[int, dict[str, Any]]], now: datetime) -> None:
    """Put claimed messages into the digest that waits for the end of their quiet hours.

    held: message id and the digest's wishes (kennel_id, carer_id, channel, level, through, at).
    """
    if not held:
        return
    wanted: dict[tuple[int, int, str], dict[str, Any]] = {}
    for _, wish in held:
        wanted.setdefault((wish["kennel_id"], wish["carer_id"], wish["channel"]), wish)
    with transaction.atomic(using=JOBS), connections[JOBS].cursor() as cursor:
        cursor.execute(
            "SELECT id FROM duties_reminder WHERE id = ANY(%s) AND claim_token = %s ORDER BY id FOR NO KEY UPDATE",
            [[i for i, _ in held], claimed.token],
        )
        ours = {row[0] for row in cursor.fetchall()}
        for kennel_id in sorted({key[0] for key in wanted}):
            here = [w for key, w in wanted.items() if key[0] == kennel_id]
            made = digests.open_digests(cursor, here, now)
            digests.hold(
                cursor,
                kennel_id,
                {
                    i: made[w["carer_id"], w["channel"]]
                    for i, w in held
                    if i in ours and w["kennel_id"] == kennel_id
                },
            )


def hasten(reminder_ids: Sequence[int], at: datetime) -> int:
    """Tell the next in the chain now, where nobody of a step could be reached on a channel that disturbs.

    reminder_ids: messages that just became undelivered.  Gives how many messages were brought forward.
    """
    if not reminder_ids:
        return 0
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder later SET next_attempt_at = %s, scheduled_at = %s
            FROM duties_reminder failed
            WHERE failed.id = ANY(%s) AND failed.state = 'undelivered' AND failed.duty_id IS NOT NULL
              AND later.kennel_id = failed.kennel_id AND later.duty_id = failed.duty_id
              AND later.step = failed.step + 1 AND later.state = 'pending' AND later.attempts = 0
              AND later.held_in_id IS NULL AND later.next_attempt_at > %s
              AND NOT EXISTS (
                SELECT FROM duties_reminder other WHERE other.kennel_id = failed.kennel_id
                  AND other.duty_id = failed.duty_id AND other.step <= failed.step
                      AND NOT other.channel = ANY(%s)
                  AND other.state IN ('pending', 'accepted'))
            """,
            [at, at, list(reminder_ids), at, [c.name for c in channels.every() if not c.disturbs]],
        )
        return int(cursor.rowcount)


def give_back(claimed: Claim, ids: Sequence[int], at: datetime) -> None:
    """Return messages we did not come to, as if they had never been claimed."""
    finish(claimed, [End(i, "pending", again_at=at, is_attempt=False) for i in ids])
