"""Reads that other apps and pages share: who is where, with which weight.  Each is one query for any number of litters."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import connection

from kennel.records.store import array

# A pup is away from its last departure until a later return; `%(at)s` is the instant asked about.
AWAY = """EXISTS (
    SELECT 1 FROM litters_departure d WHERE d.kennel_id = p.kennel_id AND d.pup_id = p.id AND d.deleted_at IS NULL
      AND d.occurred_at <= %(at)s AND NOT EXISTS (
        SELECT 1 FROM litters_return r WHERE r.kennel_id = p.kennel_id AND r.pup_id = p.id AND r.deleted_at IS NULL
          AND r.occurred_at >= d.occurred_at AND r.occurred_at <= %(at)s))"""
# For the roll-up: every stay away as (kennel, pup, left, back).
STAYS_AWAY = """SELECT d.kennel_id, d.pup_id, d.occurred_at AS left_at,
    (SELECT min(r.occurred_at) FROM litters_return r WHERE r.kennel_id = d.kennel_id AND r.pup_id = d.pup_id
       AND r.deleted_at IS NULL AND r.occurred_at >= d.occurred_at) AS back_at
    FROM litters_departure d WHERE d.deleted_at IS NULL"""


@dataclass(frozen=True, slots=True)
class LitterCounts:
    """Six different numbers of one litter at one instant; they are never the same thing."""

    litter: UUID
    born: int
    live_born: int
    stillborn: int
    died: int
    left: int
    resident: int
    sucking: int
    hand_fed: int


@dataclass(frozen=True, slots=True)
class ResidentPup:
    """A living pup that is here, with its newest weight (None when it was never weighed)."""

    id: int
    uid: UUID
    litter: UUID
    litter_id: int
    called: str
    sex: str
    rearing: str
    born_at: datetime
    weight_g: Decimal | None
    weighed_at: datetime | None


def litter_counts(litters: Sequence[UUID], kennel_id: int, at: datetime) -> dict[UUID, LitterCounts]:
    """Counts of litters at an instant, by uid.  Call inside `door.read` or `door.write`."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            WITH placed AS (
                SELECT l.uid AS litter, p.fate, p.rearing,
                       p.fate = 'died' AND (p.died_at IS NULL OR p.died_at <= %(at)s) AS is_dead, {AWAY} AS is_away
                FROM litters_litter l
                LEFT JOIN litters_pup p ON p.kennel_id = l.kennel_id AND p.litter_id = l.id AND p.deleted_at IS NULL
                    AND p.born_at <= %(at)s
                WHERE l.kennel_id = %(kennel)s AND l.uid = ANY(%(litters)s::uuid[])
            ), judged AS (
                SELECT *, fate IS NOT NULL AND fate <> 'stillborn' AND NOT is_dead AND NOT is_away AS is_here FROM placed
            )
            SELECT litter, count(fate), count(*) FILTER (WHERE fate <> 'stillborn'), count(*) FILTER (WHERE fate = 'stillborn'),
                   count(*) FILTER (WHERE is_dead), count(*) FILTER (WHERE is_away AND NOT is_dead),
                   count(*) FILTER (WHERE is_here),
                   count(*) FILTER (WHERE is_here AND rearing IN ('sucking', 'topped_up')),
                   count(*) FILTER (WHERE is_here AND rearing = 'hand_fed')
            FROM judged GROUP BY litter
            """,  # noqa: S608
            {"at": at, "kennel": kennel_id, "litters": array(litters)},
        )
        return {row[0]: LitterCounts(*row) for row in cursor.fetchall()}


def resident_pups(litters: Sequence[UUID], kennel_id: int, at: datetime) -> list[ResidentPup]:
    """Living pups that are here at an instant, by litter and order of birth, with the newest weight until then.

    A weight of the dog that a pup has grown into is its own.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT p.id, p.uid, l.uid, l.id, COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0)),
                   p.sex, p.rearing, p.born_at, w.weight_g, w.occurred_at
            FROM litters_litter l
            JOIN litters_pup p ON p.kennel_id = l.kennel_id AND p.litter_id = l.id AND p.deleted_at IS NULL
                AND p.born_at <= %(at)s AND p.fate <> 'stillborn' AND (p.died_at IS NULL OR p.died_at > %(at)s)
                AND NOT (p.fate = 'died' AND p.died_at IS NULL)
            LEFT JOIN LATERAL (
                (SELECT weight_g, occurred_at, id FROM litters_weighing w
                 WHERE w.kennel_id = p.kennel_id AND w.pup_id = p.id AND w.deleted_at IS NULL AND w.occurred_at <= %(at)s
                 ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1)
                UNION ALL
                (SELECT weight_g, occurred_at, id FROM litters_weighing w
                 WHERE w.kennel_id = p.kennel_id AND w.dog_id = p.grown_as_id AND w.deleted_at IS NULL
                   AND w.occurred_at <= %(at)s ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1)
                ORDER BY occurred_at DESC, id DESC LIMIT 1
            ) w ON true
            WHERE l.kennel_id = %(kennel)s AND l.uid = ANY(%(litters)s::uuid[]) AND NOT {AWAY}
            ORDER BY l.id, p.birth_order NULLS LAST, p.id LIMIT 2000
            """,  # noqa: S608
            {"at": at, "kennel": kennel_id, "litters": array(litters)},
        )
        return [ResidentPup(*row) for row in cursor.fetchall()]
