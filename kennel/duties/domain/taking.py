"""Who is on it: the holder of a duty follows from its takes, releases and undos alone.

The order is that of arrival: what the first taker was answered stays true.  A take that arrives late from a
device without reception never displaces anybody, and has lapsed already when its 15 minutes are over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

TAKEN_FOR = timedelta(minutes=15)
UNDO_WITHIN = timedelta(seconds=10)


@dataclass(frozen=True)
class Tap:
    """A recorded action on one duty.  carer_id and device_id: who; recorded_at: when it arrived."""

    uid: UUID
    action: str
    carer_id: int | None
    device_id: int | None
    occurred_at: datetime
    recorded_at: datetime
    undoes: UUID | None = None
    take_over: bool = False

    def is_of(self, other: Tap) -> bool:
        """Whether the same person (or the same device that speaks for nobody) did both."""
        if self.carer_id is not None or other.carer_id is not None:
            return self.carer_id == other.carer_id
        return self.device_id == other.device_id


@dataclass(frozen=True)
class Hold:
    """Somebody is on it, since and until."""

    tap: Tap

    @property
    def since(self) -> datetime:
        """When it was taken."""
        return self.tap.occurred_at

    @property
    def until(self) -> datetime:
        """When it goes back to escalation."""
        return self.tap.occurred_at + TAKEN_FOR


def undone(taps: Sequence[Tap]) -> frozenset[UUID]:
    """Uids of the taps that were taken back in time, by whoever made them."""
    by_uid = {tap.uid: tap for tap in taps}
    return frozenset(tap.undoes for tap in taps if tap.undoes in by_uid and may_undo(by_uid[tap.undoes], tap))


def may_undo(made: Tap, undo: Tap) -> bool:
    """Whether an undo comes from the same person, within 10 seconds by the clock both were made on."""
    return undo.is_of(made) and timedelta(0) <= undo.occurred_at - made.occurred_at <= UNDO_WITHIN


def holder(taps: Sequence[Tap], before: UUID | None = None) -> Hold | None:
    """Who holds the duty after these taps; it may have lapsed: look at `until`.

    before: only taps until that one.
    """
    back = undone(taps)
    hold: Hold | None = None
    for tap in sorted(taps, key=lambda t: (t.recorded_at, t.occurred_at, t.uid)):
        if tap.uid == before:
            return hold
        if tap.uid in back:
            continue
        if tap.action == "take" and not is_told(hold, tap):
            hold = Hold(tap)
        elif tap.action == "release" and hold is not None and tap.is_of(hold.tap):
            hold = None
    return hold


def is_told(hold: Hold | None, tap: Tap) -> bool:
    """Whether a take changes nothing because somebody else is on it: the taker is told who and since when."""
    if hold is None or tap.take_over or tap.is_of(hold.tap):
        return False
    return tap.recorded_at < hold.until
