"""After a stop: which duties are still worth a message, and which were missed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

LATE = timedelta(minutes=5)


@dataclass(frozen=True)
class Waiting:
    """A duty that should have been released.  schedule: what it recurs under; None when it stands alone."""

    duty_id: int
    schedule: int | None
    due_at: datetime
    useful_until: datetime


@dataclass(frozen=True)
class Sorted:
    """on_time: release as usual.

    late: still useful, the newest of its schedule.  missed: everything else.
    """

    on_time: tuple[int, ...]
    late: tuple[int, ...]
    missed: tuple[int, ...]


def sort_out(waiting: Iterable[Waiting], now: datetime, late_after: timedelta = LATE) -> Sorted:
    """Sort duties that are due by whether they are on time, late but useful, or missed.

    Of each schedule at most the newest late one counts, none when a newer one is on time, and only before its
    `useful_until`; nobody is asked to make up for the others.
    """
    on_time: list[int] = []
    newest: dict[object, Waiting] = {}
    missed: list[int] = []
    for one in sorted(waiting, key=lambda w: (w.due_at, w.duty_id)):
        if now >= one.useful_until:
            missed.append(one.duty_id)
            continue
        schedule: object = ("alone", one.duty_id) if one.schedule is None else one.schedule
        is_late = one.due_at < now - late_after
        if (older := newest.pop(schedule, None)) is not None:
            missed.append(older.duty_id)
        if is_late:
            newest[schedule] = one
        else:
            on_time.append(one.duty_id)
    return Sorted(tuple(on_time), tuple(one.duty_id for one in newest.values()), tuple(missed))
