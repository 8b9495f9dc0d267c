"""Sending: claim, look again, hand over with no transaction open, finish with the token.

Promise: each message reaches the provider at least once while it is useful; a resend is recognisable as the
same.
"""

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import structlog
from django.conf import settings

from kennel.duties import channels
from kennel.duties.channels import Outcome, Outgoing, Result
from kennel.duties.choices import Level, ReminderKind, ReminderState
from kennel.duties.domain import delivery, wording
from kennel.duties.domain.delivery import Verdict
from kennel.duties.services import claims
from kennel.duties.services.candidates import Candidate, look_again
from kennel.duties.services.claims import Claim, End
from kennel.duties.services.unsubscribing import unsubscribe_url

log = structlog.get_logger(__name__)
ENDS = {
    Verdict.CANCEL: ReminderState.CANCELLED,
    Verdict.MISS: ReminderState.MISSED,
    Verdict.SUPPRESS: ReminderState.SUPPRESSED,
    Verdict.UNDELIVERABLE: ReminderState.UNDELIVERED,
}


@dataclass
class Round:
    """What a round of sending did, by number of messages."""

    accepted: int = 0
    retried: int = 0
    undelivered: int = 0
    held: int = 0
    put_off: int = 0
    dropped: int = 0
    given_back: int = 0

    @property
    def in_all(self) -> int:
        """All messages that were looked at."""
        return (
            self.accepted
            + self.retried
            + self.undelivered
            + self.held
            + self.put_off
            + self.dropped
            + self.given_back
        )


@dataclass
class _Work:
    """One claimed batch on its way: passing time is measured, never asked of the wall clock."""

    claimed: Claim
    channel: channels.Channel
    done: Round
    started: float = field(default_factory=lambda: time.monotonic())
    undelivered: list[int] = field(default_factory=list)

    def now(self) -> datetime:
        """The instant of the claim plus what has passed since."""
        return self.claimed.at + timedelta(seconds=time.monotonic() - self.started)

    def has_time(self) -> bool:
        """Whether the lease lasts for one more attempt, however slow."""
        return self.now() + self.channel.longest < self.claimed.at + delivery.LEASE


def send_batch(channel_name: str, at: datetime, *, limit: int | None = None) -> Round:
    """Send at most `limit` messages of a channel that are due (its own batch without).

    Any number of senders may run at once.
    """
    claimed = claims.claim(channel_name, at, limit or channels.by_name(channel_name).batch)
    done = Round()
    if not claimed.ids:
        return done
    work = _Work(claimed, channels.by_name(channel_name), done)
    to_send = _sort(look_again(claimed.ids, at), work)
    with work.channel.session() as deliver:
        for place, candidate in enumerate(to_send):
            if not work.has_time():
                rest = [c.id for c in to_send[place:]]
                claims.give_back(claimed, rest, work.now())
                done.given_back += len(rest)
                break
            _send(candidate, deliver, work)
    claims.hasten(work.undelivered, work.now())
    return done


def _sort(candidates: Sequence[Candidate], work: _Work) -> list[Candidate]:
    """Settle everything that is not to be sent now; gives what is."""
    at, ends, held, to_send = work.claimed.at, [], [], []
    for one in candidates:
        claims.drop_members(one.id, one.dropped)
        decision = delivery.decide(one.message, one.recipient, at)
        if decision.verdict is Verdict.SEND:
            to_send.append(one)
        elif decision.verdict is Verdict.HOLD and one.kind == ReminderKind.DUTY:
            held.append((one.id, _wish(one, decision.until or at)))
            work.done.held += 1
        elif decision.verdict in (Verdict.HOLD, Verdict.PUT_OFF):
            ends.append(End(one.id, "pending", decision.reason, again_at=decision.until, is_attempt=False))
            work.done.put_off += 1
        elif one.kind == ReminderKind.DIGEST:
            claims.end_digest(work.claimed, one.id, ENDS[decision.verdict], decision.reason, one.members)
            work.done.dropped += 1
        else:
            ends.append(End(one.id, ENDS[decision.verdict], decision.reason))
            if decision.verdict is Verdict.UNDELIVERABLE:
                work.undelivered.append(one.id)
                work.done.undelivered += 1
            else:
                work.done.dropped += 1
    claims.hold_back(work.claimed, held, at)
    claims.finish(work.claimed, ends)
    return to_send


def _wish(one: Candidate, until: datetime) -> dict[str, Any]:
    return {
        "kennel_id": one.kennel_id,
        "carer_id": one.carer_id,
        "channel": one.channel,
        "level": one.level,
        "through": False,
        "at": until,
    }


def _send(one: Candidate, deliver: Callable[[Outgoing], Result], work: _Work) -> None:
    now = work.now()
    words = _words(one, now)
    result = deliver(_outgoing(one, words))
    now = work.now()
    if result.outcome is Outcome.ACCEPTED:
        if one.kind == ReminderKind.DIGEST:
            claims.digest_accepted(work.claimed, one.id, now, words.subject, words.body, one.members)
        else:
            claims.accepted(work.claimed, one.id, now, words.subject, words.body)
        work.done.accepted += 1
        return
    log.info("reminder not accepted", reminder=one.id, outcome=result.outcome.value, problem=result.problem)
    is_sent_once = one.level == Level.INFO or (
        one.kind == ReminderKind.DIGEST and one.level != Level.CRITICAL
    )
    if result.outcome is Outcome.UNKNOWN and is_sent_once:
        # It may have arrived; a second digest would be noise, a second "due" is not.
        _give_up(one, f"unknown: {result.problem}", work)
        return
    pause = delivery.pause_after(one.attempts, random.random(), result.retry_after)
    if result.outcome is Outcome.REFUSED or now + pause >= one.useful_until:
        _give_up(one, result.problem, work)
        return
    claims.finish(work.claimed, [End(one.id, "pending", result.problem, again_at=now + pause)])
    work.done.retried += 1


def _give_up(one: Candidate, problem: str, work: _Work) -> None:
    if one.kind == ReminderKind.DIGEST:
        claims.end_digest(work.claimed, one.id, ReminderState.UNDELIVERED, problem, one.members)
    else:
        claims.finish(work.claimed, [End(one.id, ReminderState.UNDELIVERED, problem)])
        work.undelivered.append(one.id)
    work.done.undelivered += 1


def _words(one: Candidate, now: datetime) -> wording.Words:
    url = f"{settings.ORIGIN}/kennels/{one.kennel_uid}"
    if one.kind == ReminderKind.DIGEST:
        return wording.for_digest(one.items, kennel=one.kennel_name, zone=one.kennel_zone, now=now, url=url)
    return wording.for_duty(
        one.items[0],
        kennel=one.kennel_name,
        zone=one.kennel_zone,
        now=now,
        is_escalated=one.step > 0,
        url=url,
    )


def _outgoing(one: Candidate, words: wording.Words) -> Outgoing:
    is_digest = one.kind == ReminderKind.DIGEST
    return Outgoing(
        uid=one.uid,
        carer_id=one.carer_id,
        carer_name=one.carer_name,
        address=one.address,
        subject=words.subject,
        body=words.body,
        level=one.level,
        useful_until=one.useful_until,
        is_digest=is_digest,
        unsubscribe_url=unsubscribe_url(one.kennel_uid, one.carer_id, one.channel) if is_digest else "",
    )
