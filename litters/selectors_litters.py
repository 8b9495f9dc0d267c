"""Litters with their parents, and what was measured of their pups: one query each for any number of litters."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import connection

from kennel.records import store
from kennel.records.store import array


@dataclass(frozen=True, slots=True)
class LitterHead:
    """A litter and what is known of its parents; weights in kg, None where not known."""

    id: int
    uid: UUID
    name: str
    season_id: int | None
    mated_on: date | None
    whelped_at: datetime | None
    weaned_on: date | None
    expected_pups: int | None
    expected_adult_kg: float | None
    dam_id: int
    dam_uid: UUID
    dam_name: str
    dam_breed: str
    dam_born_on: date | None
    dam_kg: float | None
    sire_id: int | None
    sire_uid: UUID | None
    sire_name: str
    sire_kg: float | None


@dataclass(frozen=True, slots=True)
class PupHead:
    """A pup and its litter."""

    id: int
    uid: UUID
    litter: UUID
    sex: str
    born_at: datetime


@dataclass(frozen=True, slots=True)
class Measured:
    """A weight (g) or a temperature (degrees Celsius) of a pup or dog at an instant."""

    animal_id: int
    at: datetime
    value: float
    is_birth_weight: bool = False


def ages_and_kg(weights: Sequence[Measured], born_at: datetime) -> list[tuple[float, float]]:
    """(age in days, kg) of each weight of a pup; one noted before the birth was counts as age 0."""
    day = timedelta(days=1)
    return [(max((one.at - born_at) / day, 0.0), one.value / 1000) for one in weights]


def litter_heads(litters: Sequence[UUID], kennel_id: int) -> dict[UUID, LitterHead]:
    """Litters by uid, deleted ones left out.  Call inside `door.read` or `door.write`."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT l.id, l.uid, l.name, l.season_id, l.mated_on, l.whelped_at, l.weaned_on, l.expected_pups,
                   l.expected_adult_kg::float8, dam.id, dam.uid, dam.name, dam.breed, dam.born_on,
                   dam.adult_weight_kg::float8, sire.id, sire.uid, COALESCE(sire.name, ''), sire.adult_weight_kg::float8
            FROM litters_litter l
            JOIN litters_dog dam ON dam.kennel_id = l.kennel_id AND dam.id = l.dam_id
            LEFT JOIN litters_dog sire ON sire.kennel_id = l.kennel_id AND sire.id = l.sire_id
            WHERE l.kennel_id = %s AND l.uid = ANY(%s::uuid[]) AND l.deleted_at IS NULL
            """,
            [kennel_id, array(litters)],
        )
        heads = [LitterHead(*row) for row in cursor.fetchall()]
    return {head.uid: head for head in heads}


def pup_head(pup: UUID, kennel_id: int) -> PupHead | None:
    """A pup by uid; None when it, or its litter, is not here.  Call inside `door.read` or `door.write`."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT p.id, p.uid, l.uid, p.sex, p.born_at FROM litters_pup p JOIN litters_litter l"
            " ON l.kennel_id = p.kennel_id AND l.id = p.litter_id AND l.deleted_at IS NULL"
            " WHERE p.kennel_id = %s AND p.uid = %s AND p.deleted_at IS NULL",
            [kennel_id, pup],
        )
        row = cursor.fetchone()
    return None if row is None else PupHead(*row)


def litters_of_pups(pup_ids: Sequence[int], kennel_id: int) -> list[UUID]:
    """The litters some pups (internal ids) belong to, each once."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT l.uid FROM litters_pup p JOIN litters_litter l ON l.kennel_id = p.kennel_id"
            " AND l.id = p.litter_id WHERE p.kennel_id = %s"
            " AND p.id IN (SELECT value::bigint FROM json_array_elements_text(%s)) ORDER BY l.uid",
            [kennel_id, store.dump(list(pup_ids))],
        )
        return [row[0] for row in cursor.fetchall()]


def weights_of_pups(pup_ids: Sequence[int], kennel_id: int, at: datetime, most: int = 400) -> list[Measured]:
    """The newest `most` weights of each pup until an instant, oldest first; the birth weight is never left out.

    Weights of the dog that a pup has grown into are its own.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT asked.id, w.occurred_at, w.weight_g::float8, w.is_birth_weight
            FROM (SELECT value::bigint AS id FROM json_array_elements_text(%(pups)s)) asked
            JOIN litters_pup p ON p.kennel_id = %(kennel)s AND p.id = asked.id
            CROSS JOIN LATERAL (
                (SELECT id, occurred_at, weight_g, is_birth_weight FROM litters_weighing
                 WHERE kennel_id = %(kennel)s AND pup_id = asked.id AND deleted_at IS NULL AND occurred_at <= %(at)s
                 ORDER BY occurred_at DESC, id DESC LIMIT %(most)s)
                UNION
                (SELECT id, occurred_at, weight_g, is_birth_weight FROM litters_weighing
                 WHERE kennel_id = %(kennel)s AND pup_id = asked.id AND deleted_at IS NULL AND occurred_at <= %(at)s
                   AND is_birth_weight ORDER BY occurred_at, id LIMIT 1)
                UNION
                (SELECT id, occurred_at, weight_g, false FROM litters_weighing
                 WHERE kennel_id = %(kennel)s AND dog_id = p.grown_as_id AND deleted_at IS NULL
                   AND occurred_at <= %(at)s ORDER BY occurred_at DESC, id DESC LIMIT %(most)s)
            ) w ORDER BY asked.id, w.occurred_at, w.id
            """,
            {"pups": store.dump(list(pup_ids)), "kennel": kennel_id, "at": at, "most": most},
        )
        return [Measured(*row) for row in cursor.fetchall()]


def temperatures_of_pups(
    pup_ids: Sequence[int], kennel_id: int, at: datetime, most: int = 20
) -> list[Measured]:
    """The newest `most` temperatures of each pup until an instant, oldest first."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT asked.id, t.occurred_at, t.temp_c::float8
            FROM (SELECT value::bigint AS id FROM json_array_elements_text(%s)) asked
            CROSS JOIN LATERAL (
                SELECT id, occurred_at, temp_c FROM litters_temperature
                WHERE kennel_id = %s AND pup_id = asked.id AND deleted_at IS NULL AND occurred_at <= %s
                ORDER BY occurred_at DESC, id DESC LIMIT %s
            ) t ORDER BY asked.id, t.occurred_at, t.id
            """,
            [store.dump(list(pup_ids)), kennel_id, at, most],
        )
        return [Measured(*row) for row in cursor.fetchall()]


def apgar_totals(pup_ids: Sequence[int], kennel_id: int, at: datetime) -> dict[int, int]:
    """The newest viability score (0 to 10) of each pup that has one."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT ON (pup_id) pup_id, apgar_heart_rate + apgar_breathing + apgar_reflex + apgar_motility
                   + apgar_colour
            FROM litters_whelpingentry
            WHERE kennel_id = %s AND kind = 'apgar' AND deleted_at IS NULL AND occurred_at <= %s
              AND pup_id IN (SELECT value::bigint FROM json_array_elements_text(%s))
            ORDER BY pup_id, occurred_at DESC, id DESC
            """,
            [kennel_id, at, store.dump(list(pup_ids))],
        )
        return dict(cursor.fetchall())
