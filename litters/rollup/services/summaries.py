"""A summary of any interval, by the same SQL as the stored days."""

from datetime import datetime
from typing import Any

from django.db import connection

from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import KennelHere
from litters.rollup import contributions
from litters.rollup.services.computing import day_query

_PUPS = """
    SELECT p.uid, COALESCE(NULLIF(p.name, ''), p.band) AS called, last.weight_g, last.occurred_at, before.weight_g,
           before.occurred_at
    FROM litters_pup p
    LEFT JOIN LATERAL (SELECT weight_g, occurred_at FROM litters_weighing w WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id
        AND w.deleted_at IS NULL AND w.occurred_at < %s ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1) last ON true
    LEFT JOIN LATERAL (SELECT weight_g, occurred_at FROM litters_weighing w WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id
        AND w.deleted_at IS NULL AND w.occurred_at < %s ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1) before ON true
    WHERE p.kennel_id = %s AND p.litter_id = %s AND p.deleted_at IS NULL AND p.born_at < %s
    ORDER BY p.born_at, p.id LIMIT 100
"""


def litter_summary(here: KennelHere, litter_id: int, from_at: datetime, to_at: datetime) -> dict[str, Any]:
    """Counts at the end, weights and gains of each pup, and the other apps' aggregates for [from_at, to_at)."""
    window = {
        "kennel_id": here.id,
        "litter_id": litter_id,
        "day": local_day(to_at, here.zone).isoformat(),
        "from_at": from_at,
        "to_at": to_at,
    }
    with connection.cursor() as cursor:
        cursor.execute(_PUPS, [to_at, from_at, here.id, litter_id, to_at])
        pups = [_pup(row, from_at) for row in cursor.fetchall()]
        cursor.execute(
            f"WITH rollup_window AS (SELECT * FROM json_to_recordset(%s) AS w (kennel_id bigint, litter_id bigint, day date,"  # noqa: S608
            f" from_at timestamptz, to_at timestamptz)) SELECT row_to_json(d)::text FROM ({day_query()}) d",
            [store.dump([window])],
        )
        day = store.load(cursor.fetchone()[0])
        extra = {}
        for contribution in contributions.every():
            cursor.execute(
                f"WITH rollup_window AS (SELECT * FROM json_to_recordset(%s) AS w (kennel_id bigint, litter_id bigint, day date,"  # noqa: S608
                f" from_at timestamptz, to_at timestamptz)) SELECT x.payload::text FROM ({contribution.sql})"
                " AS x (litter_id, day, payload)",
                [store.dump([window])],
            )
            row = cursor.fetchone()
            extra[contribution.name] = store.load(row[0]) if row else None
    counts = {name: day[name] for name in _COUNTS}
    return {
        "from": from_at,
        "to": to_at,
        "counts": counts,
        "weight_mean_g": day["weight_mean_g"],
        "slowest_pup": day["slowest_pup"],
        "slowest_gain_g_per_day": day["slowest_gain_g_per_day"],
        "gains_g_per_day": day["gains"],
        "pups": pups,
        "contributors": day["contributors"],
        **extra,
    }


_COUNTS = (
    "born",
    "live_born",
    "stillborn",
    "died",
    "left",
    "resident",
    "sucking",
    "hand_fed",
    "weighed",
    "not_weighed",
)


def _pup(row: tuple[Any, ...], from_at: datetime) -> dict[str, Any]:
    uid, called, weight, at, before, before_at = row
    weighed = at is not None and at >= from_at
    return {
        "pup": uid,
        "called": called,
        "weighed": weighed,
        "weight_g": weight,
        "weighed_at": at,
        "change_g": weight - before if weighed and before is not None else None,
        "since": before_at,
    }
