"""Quiet hours: until when a message that can wait is held back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from kennel.clock.wall_clock import Zone, as_utc, instant_of, last_instant_of, zone_of


@dataclass(frozen=True)
class QuietWindow:
    """A stretch of wall time on every day, over midnight when `end` is not after `start`.

    `start` belongs to it, `end` does not. Raises ValueError when both are equal (that could mean never
    or always) or when one of them carries a zone.
    """

    start: time
    end: time

    def __post_init__(self) -> None:
        if self.start.tzinfo is not None or self.end.tzinfo is not None:
            raise ValueError("quiet hours are wall times and carry no zone of their own")
        if self.start.replace(fold=0) == self.end.replace(fold=0):
            raise ValueError("quiet hours need a start and an end that differ")

    @property
    def over_midnight(self) -> bool:
        """Whether the window begins on one day and ends on the next."""
        return self.end < self.start


def quiet_until(instant: datetime, window: QuietWindow, zone: Zone) -> datetime | None:
    """The instant (UTC) at which the quiet hours around `instant` end; None when it is not quiet.

    `zone` is the person's own zone. An end inside a repeated autumn hour is its second passing (nobody
    is woken an hour early), an end or start inside a spring gap moves forward by the gap. Raises
    ValueError for an instant without offset.
    """
    moment = as_utc(instant)
    spans = _spans_around(moment, window, zone)
    end: datetime | None = None
    for start, stop in spans:
        # Sorted by start, so where a clock change makes two nights touch, the second extends the first.
        if start <= (end or moment) < stop:
            end = stop
    return end


def _spans_around(moment: datetime, window: QuietWindow, zone: Zone) -> list[tuple[datetime, datetime]]:
    today = moment.astimezone(zone_of(zone)).date()
    spans = []
    for offset in range(-2, 3):  # two days either way: a zone may skip or repeat a whole date
        day = today + timedelta(days=offset)
        end_day = day + timedelta(days=1) if window.over_midnight else day
        spans.append((instant_of(day, window.start, zone), last_instant_of(end_day, window.end, zone)))
    return sorted(spans)
