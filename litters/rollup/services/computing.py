"""Computing litter days: set-based, for many kennels at once, by the jobs role."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import structlog
from django.db import DatabaseError, connections, transaction

from kennel.clock.wall_clock import local_day, local_day_bounds
from kennel.records import store
from litters.rollup import contributions

JOBS = "jobs"
BATCH = 2000
log = structlog.get_logger(__name__)


@dataclass(frozen=True)
class Window:
    """A litter's day as two instants."""

    kennel_id: int
    litter_id: int
    day: date
    from_at: datetime
    to_at: datetime


DAY_SQL = """
    WITH pups AS (
        SELECT w.litter_id, w.day, w.from_at, w.to_at, p.kennel_id, p.id, p.uid, p.fate, p.died_at, p.rearing, p.born_at
        FROM rollup_window w
        JOIN litters_pup p ON p.kennel_id = w.kennel_id AND p.litter_id = w.litter_id
            AND p.deleted_at IS NULL AND p.born_at < w.to_at
    ), away AS ({leaving}), placed AS (
        SELECT p.*, p.fate = 'stillborn' AS is_stillborn,
               COALESCE(p.died_at < p.to_at, false) AS is_dead,
               EXISTS (SELECT 1 FROM away a WHERE a.kennel_id = p.kennel_id AND a.pup_id = p.id AND a.left_at < p.to_at
                       AND (a.back_at IS NULL OR a.back_at >= p.to_at)) AS is_away
        FROM pups p
    ), weighed AS (
        SELECT p.litter_id, p.day, p.uid, p.id, now_.weight_g, now_.occurred_at, now_.actors,
               before.weight_g AS weight_before_g, before.occurred_at AS before_at
        FROM placed p
        CROSS JOIN LATERAL (
            SELECT (array_agg(x.weight_g ORDER BY x.occurred_at DESC, x.id DESC))[1] AS weight_g,
                   max(x.occurred_at) AS occurred_at, array_agg(DISTINCT x.recorded_by_id) AS actors
            FROM litters_weighing x
            WHERE x.pup_id = p.id AND x.kennel_id = p.kennel_id AND x.deleted_at IS NULL
              AND x.occurred_at >= p.from_at AND x.occurred_at < p.to_at
        ) now_
        LEFT JOIN LATERAL (
            SELECT x.weight_g, x.occurred_at FROM litters_weighing x
            WHERE x.pup_id = p.id AND x.kennel_id = p.kennel_id AND x.deleted_at IS NULL AND x.occurred_at < p.from_at
            ORDER BY x.occurred_at DESC, x.id DESC LIMIT 1
        ) before ON true
        WHERE now_.weight_g IS NOT NULL
    ), gained AS (
        SELECT litter_id, day, uid, round((weight_g - weight_before_g) * 86400
               / extract(epoch FROM occurred_at - before_at)::numeric, 2) AS gain
        FROM weighed WHERE before_at IS NOT NULL AND occurred_at > before_at
    ), weights AS (
        SELECT litter_id, day, count(*) AS weighed, round(avg(weight_g), 2) AS mean, min(weight_g) AS least,
               max(weight_g) AS most FROM weighed GROUP BY litter_id, day
    ), gains AS (
        SELECT litter_id, day, jsonb_object_agg(uid, gain) AS all_gains,
               (array_agg(uid ORDER BY gain, uid))[1] AS slowest, min(gain) AS slowest_gain
        FROM gained GROUP BY litter_id, day
    ), authors AS (
        SELECT litter_id, day, jsonb_agg(DISTINCT c.name ORDER BY c.name) AS names
        FROM (SELECT litter_id, day, unnest(actors) AS actor FROM weighed{authors}) recorded
        JOIN people_carer c ON c.id = actor GROUP BY litter_id, day
    ), counted AS (
        SELECT litter_id, day, count(*) AS born, count(*) FILTER (WHERE NOT is_stillborn) AS live_born,
               count(*) FILTER (WHERE is_stillborn) AS stillborn,
               count(*) FILTER (WHERE is_dead AND NOT is_stillborn) AS died,
               count(*) FILTER (WHERE is_away AND NOT is_dead) AS gone,
               count(*) FILTER (WHERE NOT (is_stillborn OR is_dead OR is_away)) AS resident,
               count(*) FILTER (WHERE NOT (is_stillborn OR is_dead OR is_away) AND rearing IN ('sucking', 'topped_up')) AS sucking,
               count(*) FILTER (WHERE NOT (is_stillborn OR is_dead OR is_away) AND rearing = 'hand_fed') AS hand_fed
        FROM placed GROUP BY litter_id, day
    )
    SELECT w.kennel_id, w.litter_id, w.day, w.from_at, w.to_at,
           COALESCE(c.born, 0) born, COALESCE(c.live_born, 0) live_born, COALESCE(c.stillborn, 0) stillborn,
           COALESCE(c.died, 0) died, COALESCE(c.gone, 0) AS "left", COALESCE(c.resident, 0) resident,
           COALESCE(c.sucking, 0) sucking, COALESCE(c.hand_fed, 0) hand_fed, COALESCE(g.weighed, 0) weighed,
           GREATEST(COALESCE(c.resident, 0) - COALESCE(g.weighed, 0), 0) not_weighed,
           g.mean weight_mean_g, g.least weight_min_g, g.most weight_max_g,
           COALESCE(h.all_gains, '{{}}') gains, h.slowest slowest_pup, h.slowest_gain slowest_gain_g_per_day,
           COALESCE(a.names, '[]') contributors, k.seq
    FROM rollup_window w
    JOIN records_counter k ON k.kennel_id = w.kennel_id
    LEFT JOIN counted c USING (litter_id, day)
    LEFT JOIN weights g USING (litter_id, day)
    LEFT JOIN gains h USING (litter_id, day)
    LEFT JOIN authors a USING (litter_id, day)
"""
COLUMNS = (
    'kennel_id, litter_id, day, from_at, to_at, born, live_born, stillborn, died, "left", resident, sucking, hand_fed,'
    " weighed, not_weighed, weight_mean_g, weight_min_g, weight_max_g, gains, slowest_pup, slowest_gain_g_per_day,"
    " contributors, seq"
)
_KEPT = [
    c.strip() for c in f"{COLUMNS}, extra".split(",") if c.strip() not in ("kennel_id", "litter_id", "day")
]
UPSERT = (
    f"INSERT INTO rollup_litterday ({COLUMNS}, extra) %s ON CONFLICT (litter_id, day) DO UPDATE SET "
    + ", ".join(f"{column} = EXCLUDED.{column}" for column in _KEPT)
)


def day_query() -> str:
    """The SELECT that computes the windows in `rollup_window`."""
    return DAY_SQL.format(leaving=contributions.leaving(), authors=contributions.authors())


def whole_day_query() -> str:
    """The SELECT of everything a stored day holds: its own columns, and in `extra` what other apps add, by name.

    One statement, so that each row is written once.
    """
    joins, pairs = [], []
    for place, contribution in enumerate(contributions.every()):
        pairs.append(f"'{contribution.name}', x{place}.payload")
        joins.append(
            f"LEFT JOIN ({contribution.sql}) AS x{place} (litter_id, day, payload) USING (litter_id, day)"
        )
    columns = ", ".join(f"d.{column.strip()}" for column in COLUMNS.split(","))
    return f"SELECT {columns}, jsonb_build_object({', '.join(pairs)}) AS extra FROM ({day_query()}) d {' '.join(joins)}"  # noqa: S608


def compute(windows: Sequence[Window]) -> None:
    """Compute and store these litter days in one transaction of the jobs role, and unmark them."""
    rows = [
        {
            "kennel_id": w.kennel_id,
            "litter_id": w.litter_id,
            "day": w.day.isoformat(),
            "from_at": w.from_at.isoformat(),
            "to_at": w.to_at.isoformat(),
        }
        for w in windows
    ]
    with transaction.atomic(using=JOBS), connections[JOBS].cursor() as cursor:
        cursor.execute(
            "CREATE TEMP TABLE rollup_window ON COMMIT DROP AS SELECT * FROM json_to_recordset(%s) AS w"
            " (kennel_id bigint, litter_id bigint, day date, from_at timestamptz, to_at timestamptz)",
            [store.dump(rows)],
        )
        # Unmark first: a fact that arrives meanwhile marks its day again, after this snapshot.
        cursor.execute(
            "DELETE FROM rollup_dirtyday d USING rollup_window w WHERE d.litter_id = w.litter_id AND d.day = w.day"
        )
        cursor.execute("ANALYZE rollup_window")
        cursor.execute(UPSERT % whole_day_query())


def mark_finished_days(at: datetime) -> int:
    """Mark yesterday of every open litter that has no row for it yet: the night's tick, and catching up after nights
    without one (at most 30 days back); returns how many days were marked."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute("SELECT DISTINCT zone FROM people_kennel")
        yesterdays = [
            {"zone": zone, "day": (local_day(at, zone) - timedelta(days=1)).isoformat()}
            for (zone,) in cursor.fetchall()
        ]
        cursor.execute(
            """
            INSERT INTO rollup_dirtyday (kennel_id, litter_id, day)
            SELECT l.kennel_id, l.id, d::date
            FROM json_to_recordset(%s) AS z (zone text, day date)
            JOIN people_kennel k ON k.zone = z.zone
            JOIN litters_litter l ON l.kennel_id = k.id AND l.deleted_at IS NULL AND l.closed_on IS NULL
                AND l.whelped_at IS NOT NULL
            CROSS JOIN LATERAL generate_series(GREATEST(l.whelped_at::date - 1, z.day - 30), z.day, interval '1 day') AS d
            WHERE NOT EXISTS (SELECT 1 FROM rollup_litterday r WHERE r.litter_id = l.id AND r.day = d::date)
            ON CONFLICT (litter_id, day) DO NOTHING
            """,
            [store.dump(yesterdays)],
        )
        return int(cursor.rowcount)


def compute_dirty(at: datetime) -> int:
    """Compute marked days that have ended, oldest first; returns how many.  One broken litter does not stop the rest."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            "SELECT d.kennel_id, d.litter_id, d.day, k.zone FROM rollup_dirtyday d JOIN people_kennel k ON k.id = d.kennel_id"
            " WHERE d.failed_at IS NULL OR d.failed_at < %s ORDER BY d.day, d.litter_id LIMIT %s",
            [at - timedelta(hours=1), BATCH],
        )
        marked = cursor.fetchall()
    windows = []
    for kennel_id, litter_id, day, zone in marked:
        from_at, to_at = local_day_bounds(day, zone)
        if to_at <= at:
            windows.append(Window(kennel_id, litter_id, day, from_at, to_at))
    if windows:
        _compute_or_each(windows, at)
    return len(windows)


def _compute_or_each(windows: Sequence[Window], at: datetime) -> None:
    try:
        compute(windows)
    except DatabaseError:
        if len(windows) == 1:
            log.exception(
                "a litter day cannot be computed", litter=windows[0].litter_id, day=str(windows[0].day)
            )
            with connections[JOBS].cursor() as cursor:
                cursor.execute(
                    "UPDATE rollup_dirtyday SET failed_at = %s WHERE litter_id = %s AND day = %s",
                    [at, windows[0].litter_id, windows[0].day],
                )
            return
        half = len(windows) // 2
        _compute_or_each(windows[:half], at)
        _compute_or_each(windows[half:], at)
