"""What a channel offers, and the list of channels."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from uuid import UUID


@dataclass(frozen=True)
class Outgoing:
    """One message, ready to be handed over.

    uid: stable over all attempts, so that a resend is recognisable as the same message.  unsubscribe_url: for
    digests, takes a POST without a session.
    """

    uid: UUID
    carer_id: int
    carer_name: str
    address: str
    subject: str
    body: str
    level: str
    useful_until: datetime
    is_digest: bool
    unsubscribe_url: str = ""


class Outcome(StrEnum):
    """What the provider said.

    unknown: handed over perhaps, perhaps not; refused: sending again is no use.
    """

    ACCEPTED = "accepted"
    RETRY = "retry"
    UNKNOWN = "unknown"
    REFUSED = "refused"


@dataclass(frozen=True)
class Result:
    """Outcome of one attempt, why, and the provider's wish how long to wait."""

    outcome: Outcome
    problem: str = ""
    retry_after: timedelta | None = None


Deliver = Callable[[Outgoing], Result]


@dataclass(frozen=True)
class Channel:
    """A way to reach carers.

    session: opens what is needed for some messages and gives the function that delivers one; it never raises
    for a provider's misery, it answers with a Result.  disturbs: whether quiet hours hold it back.
    is_configured: whether this server can use it at all.  reachable_sql: SQL over `c` (people_carer), true
    when the carer has a confirmed address there.  longest: the most one attempt may take.  batch:
    how many messages are claimed at once.
    """

    name: str
    title: str
    session: Callable[[], AbstractContextManager[Deliver]]
    disturbs: bool = True
    is_configured: Callable[[], bool] = lambda: True
    reachable_sql: str = "true"
    longest: timedelta = timedelta(seconds=20)
    batch: int = 10


_channels: dict[str, Channel] = {}


def register(channel: Channel) -> Channel:
    """Add a channel.  A name registered twice raises ValueError."""
    if channel.name in _channels:
        raise ValueError(f"the channel {channel.name} is registered already")
    _channels[channel.name] = channel
    return channel


def by_name(name: str) -> Channel:
    """The channel of that name.  Raises KeyError for an unknown one."""
    return _channels[name]


def every() -> list[Channel]:
    """All channels, in the order they were registered."""
    return list(_channels.values())


def reachable_sql(channel_column: str) -> str:
    """SQL condition: the carer `c` can be reached on the channel named by that column."""
    branches = " ".join(f"WHEN '{one.name}' THEN {one.reachable_sql}" for one in _channels.values())
    return f"(CASE {channel_column} {branches} ELSE false END)"
