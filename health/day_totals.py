"""What a litter's health asked for in a day or an interval: an aggregate of the roll-up.

Doses count for the pups of the litter; those of its dam stand beside them.  Duties are those planned for the litter
(worming, vaccination, courses), as they were stored.  A duty counts as late when it was settled more than two hours
after its hour, the time after which it is told again.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.db import connection

from kennel.clock.wall_clock import local_day
from kennel.records.door import Door
from kennel.records.service import Saved
from litters.rollup.contributions import Contribution
from litters.rollup.services import marking

_SQL = """
    SELECT w.litter_id, w.day, jsonb_build_object(
        'doses', g.doses, 'doses_not_kept', g.not_kept, 'dam_doses', g.dam_doses,
        'doses_due', d.due, 'doses_done', d.done, 'doses_late', d.late, 'doses_missed', d.missed,
        'watches_opened', h.opened, 'watches_open', h.open, 'health_events', e.events)
    FROM rollup_window w
    JOIN litters_litter l ON l.kennel_id = w.kennel_id AND l.id = w.litter_id
    CROSS JOIN LATERAL (
        SELECT count(*) FILTER (WHERE NOT of_dam) AS doses,
            count(*) FILTER (WHERE NOT of_dam AND outcome <> 'given') AS not_kept,
            count(*) FILTER (WHERE of_dam) AS dam_doses
        FROM (
            SELECT false AS of_dam, t.outcome FROM litters_pup p
            JOIN health_treatment t ON t.kennel_id = p.kennel_id AND t.pup_id = p.id
            WHERE p.kennel_id = w.kennel_id AND p.litter_id = w.litter_id AND p.deleted_at IS NULL
              AND t.deleted_at IS NULL AND t.possible_duplicate_of IS NULL
              AND t.occurred_at >= w.from_at AND t.occurred_at < w.to_at
            UNION ALL
            SELECT true, t.outcome FROM health_treatment t
            WHERE t.kennel_id = w.kennel_id AND t.dog_id = l.dam_id AND t.deleted_at IS NULL
              AND t.possible_duplicate_of IS NULL AND t.occurred_at >= w.from_at AND t.occurred_at < w.to_at
        ) one
    ) g
    CROSS JOIN LATERAL (
        SELECT count(*) AS due, count(*) FILTER (WHERE u.state = 'closed') AS done,
            count(*) FILTER (WHERE u.state = 'closed' AND u.closed_at > u.due_at + interval '2 hours') AS late,
            count(*) FILTER (WHERE u.state = 'missed') AS missed
        FROM duties_duty u
        LEFT JOIN duties_routine r ON r.kennel_id = u.kennel_id AND r.id = u.routine_id
        WHERE u.kennel_id = w.kennel_id AND u.kind IN ('worming', 'vaccination', 'treatment-course')
          AND u.deleted_at IS NULL AND u.state <> 'cancelled' AND u.due_at >= w.from_at AND u.due_at < w.to_at
          AND (u.asks ->> 'litter' = l.uid::text OR (r.subject_type = 'litter' AND r.subject_uid = l.uid))
    ) d
    CROSS JOIN LATERAL (
        SELECT count(*) FILTER (WHERE h.opened_at >= w.from_at) AS opened,
            count(*) FILTER (WHERE h.closed_at IS NULL OR h.closed_at >= w.to_at) AS open
        FROM litters_pup p JOIN health_watch h ON h.kennel_id = p.kennel_id AND h.pup_id = p.id
        WHERE p.kennel_id = w.kennel_id AND p.litter_id = w.litter_id AND p.deleted_at IS NULL
          AND h.deleted_at IS NULL AND h.opened_at < w.to_at
    ) h
    CROSS JOIN LATERAL (
        SELECT count(*) AS events FROM health_healthevent e
        WHERE e.kennel_id = w.kennel_id AND e.deleted_at IS NULL
          AND e.occurred_at >= w.from_at AND e.occurred_at < w.to_at
          AND (e.litter_id = w.litter_id OR EXISTS (
            SELECT FROM litters_pup p WHERE p.kennel_id = e.kennel_id AND p.id = e.pup_id
              AND p.litter_id = w.litter_id))
    ) e
"""
HEALTH_TOTALS = Contribution("health", _SQL)
# A correction can reach back no further; older days are marked when their own facts change.
MOST_DAYS = 400


def facts_mark(saved: Sequence[Saved], door: Door) -> None:
    """A dose or a health event was recorded, corrected or removed: its day is computed anew."""
    _mark(saved, lambda columns: marking.day_of(columns, "occurred_at", door), door)


def watches_mark(saved: Sequence[Saved], door: Door) -> None:
    """A watch was opened, closed or corrected: from its first day until it is over, or until today."""
    _mark(saved, lambda columns: _watched(columns, door), door)


def _mark(saved: Sequence[Saved], days_of: Callable[[Mapping[str, Any]], set[date]], door: Door) -> None:
    found = marking.by_column(saved, ("pup_id", "litter_id", "dog_id"), days_of)
    for litter_id, days in _litters_of(found["dog_id"], door).items():
        found["litter_id"].setdefault(litter_id, set()).update(days)
    marking.mark(found, door)


def _litters_of(dams: Mapping[int, set[date]], door: Door) -> dict[int, set[date]]:
    """The born and open litters of these dams, with the days of their dam.  One query."""
    if not dams:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id, dam_id FROM litters_litter WHERE kennel_id = %s AND dam_id = ANY(%s) AND deleted_at IS NULL"
            " AND whelped_at IS NOT NULL AND closed_on IS NULL LIMIT 200",
            [door.kennel.id, list(dams)],
        )
        return {litter_id: dams[dam_id] for litter_id, dam_id in cursor.fetchall()}


def _watched(columns: Mapping[str, Any], door: Door) -> set[date]:
    opened, closed = columns.get("opened_at"), columns.get("closed_at")
    if opened is None:
        return set()
    first = local_day(marking.instant(opened), door.kennel.zone)
    last = local_day(door.at if closed is None else marking.instant(closed), door.kennel.zone)
    return {first + timedelta(days=n) for n in range(min(MOST_DAYS, max(0, (last - first).days)) + 1)}
