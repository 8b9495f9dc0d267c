"""Pedigrees out of the records: the dogs above some dogs, their inbreeding, and what a mating would give."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import connection

from litters.domain.pedigree import Parentage, Pedigree, build_pedigree
from litters.domain.planned_mating import AMBER_FROM, RED_FROM, MatingForecast, mating_forecast

MOST_DOGS = 20_000
_ABOVE = """
    WITH RECURSIVE above AS (
        SELECT unnest(%s::bigint[]) AS id
        UNION
        SELECT p.id FROM above a JOIN litters_dog d ON d.kennel_id = %s AND d.id = a.id
        CROSS JOIN LATERAL (VALUES (d.sire_id), (d.dam_id)) AS p (id) WHERE p.id IS NOT NULL
    )
    SELECT d.id, d.uid, d.name, d.sire_id, d.dam_id, d.born_on
    FROM above a JOIN litters_dog d ON d.kennel_id = %s AND d.id = a.id ORDER BY d.id LIMIT %s
"""


@dataclass(frozen=True)
class KnownDog:
    """A dog as a pedigree names it."""

    id: int
    uid: UUID
    name: str
    born_on: date | None


@dataclass(frozen=True)
class KnownPedigree:
    """Dogs by internal id with the pedigree they make; `problem` says why there is none."""

    dogs: dict[int, KnownDog]
    pedigree: Pedigree | None
    problem: str = ""


def load_pedigree(dog_ids: Sequence[int], kennel_id: int) -> KnownPedigree:
    """Some dogs and everybody above them.  One query; inside an open door.

    Birthdays that contradict the parentage are left to the warnings of the records: genes ask only who is whose
    offspring.  A circle of parents or a dog with one parent twice is told in `problem`.
    """
    if not dog_ids:
        return KnownPedigree({}, None, "No dog is named.")
    with connection.cursor() as cursor:
        wanted = "{" + ",".join(map(str, dog_ids)) + "}"
        cursor.execute(_ABOVE, [wanted, kennel_id, kennel_id, MOST_DOGS])
        rows = cursor.fetchall()
    dogs = {row[0]: KnownDog(row[0], row[1], row[2], row[5]) for row in rows}
    records = [Parentage(str(identifier), _text(sire), _text(dam)) for identifier, _, _, sire, dam, _ in rows]
    try:
        return KnownPedigree(dogs, build_pedigree(records))
    except ValueError as error:
        return KnownPedigree(dogs, None, _named(str(error), dogs))


def forecast_of(
    known: KnownPedigree,
    sire_id: int,
    dam_id: int,
    *,
    lines: tuple[float, float] = (AMBER_FROM, RED_FROM),
    generations: int | None = None,
) -> MatingForecast | str:
    """What a mating of two dogs would mean for the inbreeding of their pups, or why that cannot be said.

    lines: the coefficients from which it is said with amber and with red.
    """
    if known.pedigree is None:
        return known.problem
    try:
        return mating_forecast(
            known.pedigree,
            str(sire_id),
            str(dam_id),
            generations=generations,
            amber_from=lines[0],
            red_from=lines[1],
        )
    except ValueError as error:
        return _named(str(error), known.dogs)


def _text(parent: int | None) -> str | None:
    return None if parent is None else str(parent)


def _named(text: str, dogs: dict[int, KnownDog]) -> str:
    """The domain names animals by our numbers; people know them by name."""
    words = [dogs[int(word)].name if word.isdigit() and int(word) in dogs else word for word in text.split()]
    return " ".join(words) + "."
