"""Facts that doses and plans stand on: the animal, its newest weight, what it had, how it is.

Every function is one statement for any number of animals and plans, inside an open door.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from litters.selectors import AWAY

Key = tuple[str, UUID]
PAST_DAYS, MOST_PAST = 400, 60
# A bitch counts as nursing for so long after whelping while no weaning is recorded; common practice.
NURSING_DAYS = 56
# So long after it was recorded, and not said to be over, an illness still speaks; common practice.
UNWELL_DAYS = 3
MOST_ANIMALS = 400

_MEDICINE_COLUMNS = [
    "uid",
    "name",
    "purpose",
    "active",
    "form",
    "strength_value",
    "strength_unit",
    "strength_stated",
    "dose_value",
    "dose_unit",
    "dose_stated",
    "bands",
    "base_per_salt",
    "least_dose",
    "other_actives",
    "minimum_age_days",
    "minimum_weight_g",
    "course_days",
    "dose_interval_h",
    "repeat_after_days",
    "tablet_parts",
    "supply",
    "prescriber",
    "pregnancy",
    "nursing",
    "label_note",
    "source",
    "in_use",
    "id",
]


def medicine_json(alias: str) -> str:
    """SQL that shows a medicine row as `medicine_of` reads it; null when there is none."""
    pairs = ", ".join(f"'{name}', {alias}.{name}" for name in _MEDICINE_COLUMNS)
    return f"CASE WHEN {alias}.id IS NULL THEN NULL ELSE json_build_object({pairs}) END"


_ANIMALS = f"""
    SELECT a.place, json_build_object(
        'type', a.type, 'uid', a.uid, 'id', COALESCE(p.id, d.id), 'litter', l.uid, 'litter_name', l.name,
        'called', COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0), d.name),
        'born_at', p.born_at, 'born_on', d.born_on, 'breed', d.breed, 'is_deleted',
            COALESCE(p.deleted_at, d.deleted_at) IS NOT NULL,
        'weight_g', w.weight_g, 'weighed_at', w.occurred_at, 'past', past.list,
        'is_nursing', COALESCE(bitch.is_nursing, false), 'is_pregnant', COALESCE(bitch.is_pregnant, false),
        'unwell', ill.words)::text
    FROM json_to_recordset(%(asked)s) AS a (place int, type text, uid uuid, at timestamptz)
    LEFT JOIN litters_pup p ON a.type = 'pup' AND p.kennel_id = %(kennel)s AND p.uid = a.uid
    LEFT JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
    LEFT JOIN litters_dog d ON a.type = 'dog' AND d.kennel_id = %(kennel)s AND d.uid = a.uid
    LEFT JOIN LATERAL (
        SELECT w.weight_g, w.occurred_at FROM litters_weighing w
        WHERE w.kennel_id = %(kennel)s AND w.deleted_at IS NULL AND w.occurred_at <= a.at
          AND (w.pup_id = p.id OR w.dog_id = d.id)
        ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1
    ) w ON true
    LEFT JOIN LATERAL (
        SELECT bool_or(b.whelped_at <= a.at AND b.whelped_at > a.at - make_interval(days => {NURSING_DAYS})
                       AND (b.weaned_on IS NULL OR b.weaned_on > a.at::date)) AS is_nursing,
               bool_or(b.mated_on <= a.at::date AND b.mated_on > a.at::date - 75
                       AND (b.whelped_at IS NULL OR b.whelped_at > a.at)) AS is_pregnant
        FROM litters_litter b WHERE b.kennel_id = d.kennel_id AND b.dam_id = d.id AND b.deleted_at IS NULL
    ) bitch ON true
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_object('uid', t.uid, 'medicine', t.name, 'active', t.active,
            'given_at', t.occurred_at, 'dose_mg', t.dose_mg, 'by', t.carer, 'outcome', t.outcome)), '[]') AS list
        FROM (
            SELECT t.uid, t.occurred_at, t.dose_mg, t.outcome, m.name, m.active, c.name AS carer
            FROM health_treatment t JOIN health_medicine m ON m.kennel_id = t.kennel_id AND m.id = t.medicine_id
            LEFT JOIN people_carer c ON c.id = t.recorded_by_id
            WHERE t.kennel_id = %(kennel)s AND t.deleted_at IS NULL AND (t.pup_id = p.id OR t.dog_id = d.id)
              AND t.occurred_at <= a.at AND t.occurred_at > a.at - make_interval(days => {PAST_DAYS})
            ORDER BY t.occurred_at DESC, t.id DESC LIMIT {MOST_PAST}
        ) t
    ) past
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(found.kind), '[]') AS words FROM (
            SELECT e.kind FROM health_healthevent e
            WHERE e.kennel_id = %(kennel)s AND e.deleted_at IS NULL
              AND e.kind IN ('diarrhoea', 'vomiting', 'illness')
              AND (e.pup_id = p.id OR e.dog_id = d.id OR e.litter_id = p.litter_id) AND e.occurred_at <= a.at
              AND e.occurred_at > a.at - make_interval(days => {UNWELL_DAYS})
              AND (e.ended_on IS NULL OR e.ended_on > a.at::date)
            UNION ALL
            SELECT 'watch' FROM health_watch h
            WHERE h.kennel_id = %(kennel)s AND h.deleted_at IS NULL AND (h.pup_id = p.id OR h.dog_id = d.id)
              AND h.level <> 'watch' AND h.opened_at <= a.at AND (h.closed_at IS NULL OR h.closed_at > a.at)
            LIMIT 10
        ) found
    ) ill
    WHERE COALESCE(p.id, d.id) IS NOT NULL
    ORDER BY a.place
"""  # noqa: S608 - constants of this module


@dataclass(frozen=True)
class AnimalFacts:
    """A pup or dog at an instant; `row` holds all that was read of it."""

    type: str
    uid: UUID
    called: str
    row: dict[str, Any]

    @property
    def weight_g(self) -> float | None:
        """Newest weight by then, g."""
        found = self.row["weight_g"]
        return None if found is None else float(found)

    @property
    def weighed_at(self) -> datetime | None:
        """When that was."""
        return instant(self.row["weighed_at"])


def instant(text: str | None) -> datetime | None:
    """An instant of a JSON row."""
    return None if text is None else datetime.fromisoformat(text)


def day(text: str | None) -> date | None:
    """A day of a JSON row."""
    return None if text is None else date.fromisoformat(text)


def animal_facts(asked: Sequence[tuple[str, UUID, datetime]], door: Door) -> list[AnimalFacts | None]:
    """Facts of each (type, uid, instant) in order; None for one that is not in this kennel.  One query."""
    if not asked:
        return []
    rows = [
        {"place": place, "type": kind, "uid": uid, "at": at} for place, (kind, uid, at) in enumerate(asked)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_ANIMALS, {"asked": store.dump(rows), "kennel": door.kennel.id})
        found = {}
        for place, text in cursor.fetchall():
            row = store.load(text)
            found[place] = AnimalFacts(row["type"], UUID(row["uid"]), row["called"], row)
    return [found.get(place) for place in range(len(asked))]


def medicines_by_uid(uids: Iterable[UUID], door: Door) -> dict[UUID, dict[str, Any]]:
    """`medicine_json` objects of medicines of this kennel, deleted ones too.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT m.uid, ({medicine_json('m')})::text FROM health_medicine m"  # noqa: S608 - a constant
            " WHERE m.kennel_id = %s AND m.uid = ANY(%s::uuid[])",
            [door.kennel.id, store.array(uids)],
        )
        return {uid: store.load(text) for uid, text in cursor.fetchall()}


def cupboard(door: Door) -> list[dict[str, Any]]:
    """The medicines in use here.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT ({medicine_json('m')})::text FROM health_medicine m"  # noqa: S608 - a constant
            " WHERE m.kennel_id = %s AND m.deleted_at IS NULL AND m.in_use ORDER BY m.id LIMIT 300",
            [door.kennel.id],
        )
        return [store.load(text) for (text,) in cursor.fetchall()]


def pups_here(litters: Iterable[UUID], at: datetime, door: Door) -> list[tuple[UUID, UUID]]:
    """(litter, pup) of living pups that are here, in the order of birth.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT l.uid, p.uid FROM litters_litter l
            JOIN litters_pup p ON p.kennel_id = l.kennel_id AND p.litter_id = l.id AND p.deleted_at IS NULL
                AND p.born_at <= %(at)s AND p.fate = 'living'
            WHERE l.kennel_id = %(kennel)s AND l.uid = ANY(%(litters)s::uuid[]) AND NOT {AWAY}
            ORDER BY l.id, p.birth_order NULLS LAST, p.id LIMIT {MOST_ANIMALS}
            """,  # noqa: S608 - constants
            {"at": at, "kennel": door.kennel.id, "litters": store.array(litters)},
        )
        return [(litter, pup) for litter, pup in cursor.fetchall()]
