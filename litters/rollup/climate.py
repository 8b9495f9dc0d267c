"""The whelping box in a day or an interval: lowest and highest readings, minutes outside the range, minutes unknown.

A reading of the surface speaks until the next one, at most for an hour (common practice, no source); what no reading
speaks for is unknown, never assumed.  Outside is what was said beside the reading when it was written down (the range
of the litter's age, see `litters/services/climates.py`), so that computing an old day again gives the old answer.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from kennel.clock.wall_clock import local_day
from kennel.records.door import Door
from kennel.records.service import Saved
from litters.rollup.contributions import Contribution
from litters.rollup.services import marking

READING_HOLDS = timedelta(hours=1)

_SQL = f"""
    SELECT w.litter_id, w.day, jsonb_build_object(
        'readings', c.readings, 'surface_min_c', c.surface_min, 'surface_max_c', c.surface_max,
        'area_min_c', c.area_min, 'area_max_c', c.area_max,
        'humidity_min_pct', c.humidity_min, 'humidity_max_pct', c.humidity_max,
        'minutes_outside', round(c.outside_s / 60),
        'minutes_unknown', round((extract(epoch FROM w.to_at - w.from_at) - c.known_s) / 60))
    FROM rollup_window w
    CROSS JOIN LATERAL (
        SELECT count(*) FILTER (WHERE at >= w.from_at) AS readings,
            min(surface_c) FILTER (WHERE at >= w.from_at) AS surface_min,
            max(surface_c) FILTER (WHERE at >= w.from_at) AS surface_max,
            min(area_c) FILTER (WHERE at >= w.from_at) AS area_min,
            max(area_c) FILTER (WHERE at >= w.from_at) AS area_max,
            min(humidity_pct) FILTER (WHERE at >= w.from_at) AS humidity_min,
            max(humidity_pct) FILTER (WHERE at >= w.from_at) AS humidity_max,
            COALESCE(sum(held_s), 0) AS known_s, COALESCE(sum(held_s) FILTER (WHERE is_outside), 0) AS outside_s
        FROM (
            SELECT b.occurred_at AS at, b.surface_c, b.area_c, b.humidity_pct,
                b.warnings @> '[{{"code": "box_cold"}}]' OR b.warnings @> '[{{"code": "box_warm"}}]' AS is_outside,
                CASE WHEN b.surface_c IS NOT NULL THEN GREATEST(0, extract(epoch FROM LEAST(
                    w.to_at, b.occurred_at + interval '{READING_HOLDS.total_seconds():.0f} s',
                    min(b.occurred_at) FILTER (WHERE b.surface_c IS NOT NULL) OVER (
                        ORDER BY b.occurred_at, b.id ROWS BETWEEN 1 FOLLOWING AND UNBOUNDED FOLLOWING)
                    ) - GREATEST(w.from_at, b.occurred_at))) END AS held_s
            FROM litters_boxclimate b
            WHERE b.kennel_id = w.kennel_id AND b.litter_id = w.litter_id AND b.deleted_at IS NULL
              AND b.occurred_at < w.to_at
              AND b.occurred_at >= w.from_at - interval '{READING_HOLDS.total_seconds():.0f} s'
        ) one
    ) c
"""  # noqa: S608 - a constant of this module
CLIMATE_TOTALS = Contribution("climate", _SQL)


def on_climates(saved: Sequence[Saved], door: Door) -> None:
    """A reading was recorded, corrected or removed: its day, and the next one when it speaks into that."""

    def days_of(columns: Mapping[str, Any]) -> set[date]:
        if columns.get("occurred_at") is None:
            return set()
        at = marking.instant(columns["occurred_at"])
        return {local_day(at, door.kennel.zone), local_day(at + READING_HOLDS, door.kennel.zone)}

    marking.mark(marking.by_column(saved, ("litter_id",), days_of), door)
