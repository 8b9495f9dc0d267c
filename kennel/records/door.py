"""The one door: every read and write of records happens inside `read` or `write`, for one kennel at a time."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import connection, transaction

from kennel.people.choices import RANK, Role
from kennel.records.refusals import Refusal

_cluster_is_ours = False
LOCK_WAIT_S = 0.5
CLOCK_TOLERANCE = timedelta(seconds=120)
# At most half of a process's connections may stand waiting for a busy kennel; reading goes on with the rest.
_writers = threading.BoundedSemaphore(max(1, settings.DB_POOL // 2))


@dataclass(frozen=True, slots=True)
class KennelHere:
    """The kennel of this request, as far as records need to know it."""

    id: int
    uid: UUID
    name: str
    zone: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts: a carer, a device, or both; `None` for both is the server itself.

    skew_s is the device's clock minus ours when it sent the request, None when it did not say.
    """

    role: Role
    carer_id: int | None = None
    device_id: int | None = None
    scopes: frozenset[str] = frozenset({"read", "write"})
    name: str = ""
    request_id: UUID | None = None
    skew_s: int | None = None

    def may(self, least: Role) -> bool:
        """Whether the role is at least this one."""
        return RANK[self.role] >= RANK[least]

    def at_request(self, request_id: UUID, skew_s: int | None) -> "Actor":
        """The same actor within one request."""
        return replace(self, request_id=request_id, skew_s=skew_s)


SERVER = Actor(role=Role.KEEPER, name="server")


@dataclass(frozen=True, slots=True)
class Door:
    """An open door: which kennel, who, and the one instant everything in this transaction happens at.

    memo: what one reaction of a write looked up and the next one needs as well; whoever keeps something there says
    for which list of records it holds.
    """

    kennel: KennelHere
    actor: Actor
    at: datetime
    epoch: int = 0
    seq_before: int = 0
    memo: dict[str, tuple[object, Any]] = field(default_factory=dict, repr=False, compare=False)


# The settings of the transaction and its lock, in one question.
_OPEN = (
    "SELECT epoch, seq, set_config('app.kennel', %s, true), set_config('app.actor', %s, true),"
    " set_config('app.device', %s, true), set_config('app.request', %s, true), set_config('app.at', %s, true)"
    " FROM records_counter WHERE kennel_id = %s FOR NO KEY UPDATE"
)


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _require_own_cluster() -> None:
    """Refuse to serve records that were copied into another cluster by hand: their cursors would lie."""
    global _cluster_is_ours
    if _cluster_is_ours:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT i.system_identifier = c.system_identifier FROM pg_control_system() c, upkeep_installation i"
        )
        row = cursor.fetchone()
    if not (row and row[0]):
        raise Refusal("unavailable", "These records were copied here by hand; run restore --adopt first.")
    _cluster_is_ours = True


@contextmanager
def write(kennel: KennelHere, actor: Actor, at: datetime) -> Iterator[Door]:
    """Open a writing transaction in one kennel; nobody else writes in it until it ends.

    at: aware instant of the request.  Raises Refusal("unavailable") when the kennel stays busy for half a second.
    The transaction is durable: it cannot be nested in another one.
    """
    _require_own_cluster()
    if not _writers.acquire(blocking=False):
        connection.close()  # back to the pool while we wait
        if not _writers.acquire(timeout=LOCK_WAIT_S):
            raise Refusal("unavailable", "Many writes at once; send the same again in a moment.")
    try:
        with transaction.atomic(durable=True):
            with connection.cursor() as cursor:
                cursor.execute(
                    _OPEN,
                    [
                        str(kennel.id),
                        _text(actor.carer_id),
                        _text(actor.device_id),
                        _text(actor.request_id),
                        at.isoformat(),
                        kennel.id,
                    ],
                )
                epoch, seq = cursor.fetchone()[:2]
            yield Door(kennel, actor, at, epoch, seq)
    finally:
        _writers.release()


@contextmanager
def read(kennel: KennelHere, actor: Actor, at: datetime) -> Iterator[Door]:
    """Open a reading transaction in one kennel (no lock).  Rows of other kennels do not exist inside it."""
    _require_own_cluster()
    with transaction.atomic(durable=True):
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT epoch, seq, set_config('app.kennel', %s, true) FROM records_counter WHERE kennel_id = %s",
                [str(kennel.id), kennel.id],
            )
            epoch, seq, _ = cursor.fetchone()
        yield Door(kennel, actor, at, epoch, seq)


def seq_now(opened: Door) -> int:
    """Sequence number reached inside an open writing transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT seq FROM records_counter WHERE kennel_id = %s", [opened.kennel.id])
        return int(cursor.fetchone()[0])
