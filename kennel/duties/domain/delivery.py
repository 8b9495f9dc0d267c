"""What to do with a claimed message: send it, hold it, put it off, or drop it; and when to try again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from kennel.clock.quiet_hours import QuietWindow, quiet_until

LEASE = timedelta(seconds=60)
PAUSES = tuple(timedelta(seconds=s) for s in (15, 60, 300, 900, 3600))


class Verdict(StrEnum):
    """What becomes of a claimed message."""

    SEND = "send"
    HOLD = "hold"
    PUT_OFF = "put_off"
    CANCEL = "cancel"
    MISS = "miss"
    SUPPRESS = "suppress"
    UNDELIVERABLE = "undeliverable"


@dataclass(frozen=True)
class Recipient:
    """The carer of a message, as of now."""

    is_member: bool
    is_on: bool
    is_reachable: bool
    quiet: QuietWindow | None
    zone: str


@dataclass(frozen=True)
class Message:
    """A claimed message.

    is_due: what it is about is still open.  taken_until: when whoever took it lets go.
    """

    is_due: bool
    is_missed: bool
    useful_until: datetime
    taken_until: datetime | None
    goes_through: bool
    disturbs: bool


@dataclass(frozen=True)
class Decision:
    """A verdict, with the instant to hold or put off until, and the reason in words for the audit."""

    verdict: Verdict
    until: datetime | None = None
    reason: str = ""


def decide(message: Message, recipient: Recipient, now: datetime) -> Decision:
    """Look again right before sending: still due, still a member, reachable, not taken, not quiet."""
    if message.is_missed or (message.is_due and now >= message.useful_until):
        return Decision(Verdict.MISS, reason="no longer useful")
    if not message.is_due:
        return Decision(Verdict.CANCEL, reason="done or called off")
    if not recipient.is_member:
        return Decision(Verdict.SUPPRESS, reason="no longer a member")
    if not recipient.is_on:
        return Decision(Verdict.SUPPRESS, reason="switched off by the carer")
    if not recipient.is_reachable:
        return Decision(Verdict.UNDELIVERABLE, reason="address not confirmed")
    if message.taken_until is not None and now < message.taken_until:
        return Decision(Verdict.PUT_OFF, message.taken_until, "somebody is on it")
    if message.disturbs and not message.goes_through and recipient.quiet is not None:
        until = quiet_until(now, recipient.quiet, recipient.zone)
        if until is not None:
            return Decision(Verdict.HOLD, until, "quiet hours")
    return Decision(Verdict.SEND)


def pause_after(attempts: int, jitter: float, asked_for: timedelta | None = None) -> timedelta:
    """How long to wait after so many failed attempts (1 or more): 15 s, 1 min, 5 min, 15 min, then each hour.

    jitter: 0 to 1, spreads the wait over plus 20 %, so that messages that failed together do not come back
    together.  asked_for: the provider's own wish (Retry-After), kept when it is longer.  Raises ValueError
    for no attempt or a jitter outside 0 to 1.
    """
    if attempts < 1 or not 0 <= jitter <= 1:
        raise ValueError("attempts count from 1, jitter lies between 0 and 1")
    pause = PAUSES[min(attempts, len(PAUSES)) - 1] * (1 + jitter / 5)
    return max(pause, asked_for or timedelta(0))
