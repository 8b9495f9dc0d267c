"""What a tick does: find kennels with work, do it kennel by kennel, remember when it ran.

Ticks carry no facts: a lost or doubled one, or two schedulers, change nothing.  They run in processes whose
default database role is app; kennels are found, and messages claimed, by the jobs role.
"""

import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from datetime import datetime, timedelta
from uuid import UUID, uuid4

import structlog
from django.db import OperationalError, connections

from kennel.duties import channels, selectors
from kennel.duties.domain.catch_up import LATE
from kennel.duties.services import planning, releasing, sending
from kennel.records import door
from kennel.records.door import Door, KennelHere
from kennel.records.refusals import Refusal

log = structlog.get_logger(__name__)
JOBS = "jobs"
ROUNDS = 20
MOST_KENNELS = 5000
SEND_FOR = timedelta(seconds=30)
LEASE = timedelta(seconds=60)

_TO_PLAN = f"""
    SELECT DISTINCT r.kennel_id FROM duties_routine r
    LEFT JOIN duties_planmark m ON m.kennel_id = r.kennel_id AND m.routine_id = r.id
    WHERE {planning.NEEDS_PLANNING} ORDER BY r.kennel_id LIMIT %s
"""  # noqa: S608 - a constant of ours
_TO_RELEASE = """
    SELECT kennel_id FROM duties_duty
    WHERE state = 'open' AND deleted_at IS NULL AND released_at IS NULL AND due_at <= %s
    UNION SELECT kennel_id FROM duties_duty WHERE state = 'open' AND deleted_at IS NULL AND useful_until <= %s
    UNION SELECT kennel_id FROM duties_reminder
    WHERE state = 'pending' AND kind = 'duty' AND attempts = 0 AND next_attempt_at < %s
    ORDER BY kennel_id LIMIT %s
"""


def plan_tick(at: datetime) -> int:
    """Plan every kennel that needs it; gives how many kennels that were."""
    ahead = at + planning.AHEAD - planning.AGAIN_AFTER
    kennels = selectors.kennel_ids_by(_TO_PLAN, [ahead, MOST_KENNELS])
    return _each_kennel("plan", kennels, _plan, at)


def _plan(opened: Door) -> bool:
    return planning.plan_due(opened) < planning.AT_ONCE


def release_tick(at: datetime) -> int:
    """Release what is due in every kennel, and tell what was missed; gives how many kennels had work."""
    kennels = selectors.kennel_ids_by(_TO_RELEASE, [at, at, at - LATE, MOST_KENNELS])
    return _each_kennel("release", kennels, _release, at)


def _release(opened: Door) -> bool:
    return releasing.release_due(opened).is_all


def _each_kennel(name: str, kennel_ids: Sequence[int], step: Callable[[Door], bool], at: datetime) -> int:
    """Do a step in each kennel until it is through; a kennel that breaks does not stop the others.

    ExitStack runs every callback even when some raise, and raises the last error when all have run: nothing
    is swallowed, and nobody waits for somebody else's defect.
    """
    succeeded: list[int] = []
    with ExitStack() as stack:
        stack.callback(lambda: _ran(name, at, failures=len(kennel_ids) - len(succeeded)))
        for here in reversed(selectors.kennels_here(kennel_ids)):
            stack.callback(_in_kennel, here, step, at, succeeded)
    return len(kennel_ids)


def _in_kennel(here: KennelHere, step: Callable[[Door], bool], at: datetime, succeeded: list[int]) -> None:
    try:
        for _ in range(ROUNDS):
            with door.write(here, door.SERVER, at) as opened:
                is_through = step(opened)
            if is_through:
                break
    except (Refusal, OperationalError) as error:
        # Somebody writes in it at this moment; the next tick, 15 s later, finds the same work.
        log.info("kennel is busy", kennel_id=here.id, error=type(error).__name__)
    succeeded.append(here.id)


def send_tick(channel: str, at: datetime) -> sending.Round:
    """Send what is due on a channel, for half a minute at most; one sender per channel.

    While another one is at it, nothing is done: a mail server that hangs may hold one worker process, not
    all.
    """
    done = sending.Round()
    name = f"send:{channel}"
    token = _lease(name, at)
    if token is None:
        return done
    clock = _Elapsed(at)
    now = at
    while now < at + SEND_FOR and _renew(name, token, now):
        one = sending.send_batch(channel, now)
        for field in vars(done):
            setattr(done, field, getattr(done, field) + getattr(one, field))
        if one.in_all < channels.by_name(channel).batch or one.given_back:
            break
        now = clock.now()
    _ran(name, at, token=token)
    return done


class _Elapsed:
    """Instants that pass on from a given one, by the monotonic clock."""

    def __init__(self, at: datetime) -> None:
        self._at = at
        self._started = time.monotonic()

    def now(self) -> datetime:
        """The given instant plus what has passed since."""
        return self._at + timedelta(seconds=time.monotonic() - self._started)


def _lease(name: str, at: datetime) -> UUID | None:
    token = uuid4()
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO duties_tick AS t (name, lease_until, lease_token) VALUES (%s, %s, %s)
            ON CONFLICT (name) DO UPDATE SET lease_until = excluded.lease_until,
                lease_token = excluded.lease_token
            WHERE t.lease_until IS NULL OR t.lease_until <= %s
            """,
            [name, at + LEASE, token, at],
        )
        return token if cursor.rowcount == 1 else None


def _renew(name: str, token: UUID, now: datetime) -> bool:
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            "UPDATE duties_tick SET lease_until = %s WHERE name = %s AND lease_token = %s",
            [now + LEASE, name, token],
        )
        return bool(cursor.rowcount == 1)


def _ran(name: str, at: datetime, *, failures: int = 0, token: UUID | None = None) -> None:
    """Remember that a tick ran through, and end its lease."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO duties_tick AS t (name, ran_at, failures) VALUES (%s, %s, %s)
            ON CONFLICT (name) DO UPDATE SET ran_at = GREATEST(t.ran_at, excluded.ran_at),
                failures = excluded.failures,
                lease_until = CASE WHEN t.lease_token = %s THEN NULL ELSE t.lease_until END
            """,
            [name, at, failures, token],
        )
