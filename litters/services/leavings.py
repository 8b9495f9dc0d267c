"""What keeps each pup from leaving, from the records of this app and of the apps that know its health."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import KennelHere
from litters import selectors
from litters.choices import Rearing
from litters.domain.leaving import (
    DueTreatment,
    Leaving,
    NeededVaccination,
    OpenWatch,
    PupFacts,
    RunningCourse,
    Travel,
    VetCheck,
    Waiver,
    leaving,
)
from litters.domain.place_rules import RuleSet
from litters.selectors import ResidentPup
from litters.selectors_litters import LitterHead
from litters.services.assessments import told_apart
from litters.services.place_rules import rules_of


@dataclass(frozen=True, slots=True)
class HealthFacts:
    """What the health of a pup asks for before it leaves; everything may be missing."""

    vaccinations: tuple[NeededVaccination, ...] = ()
    courses: tuple[RunningCourse, ...] = ()
    treatments: tuple[DueTreatment, ...] = ()
    watches: tuple[OpenWatch, ...] = ()
    vet_check: VetCheck | None = None
    rabies_on: date | None = None


# (pups by internal id, kennel, instant) -> facts of those pups that have any; set-based.
HealthOf = Callable[[Sequence[int], KennelHere, datetime], Mapping[int, HealthFacts]]
_health: list[HealthOf] = []


def add_health_facts(told: HealthOf) -> None:
    """Say what the health of pups asks for; called from the `apps.py` of the app that knows."""
    _health.append(told)


@dataclass(frozen=True, slots=True)
class PupLeaving:
    """A pup that is here, and what keeps it."""

    pup: ResidentPup
    found: Leaving


@dataclass(frozen=True, slots=True)
class LitterLeaving:
    """The pups of a litter that are here, and the rules they were held against."""

    pups: tuple[PupLeaving, ...]
    rules: RuleSet
    on: date


@dataclass(frozen=True, slots=True)
class _Record:
    chip_code: str
    chipped_on: date | None
    registered_on: date | None
    kept_back: str
    booked: bool
    collect_from_on: date | None
    travels_to: str
    waivers: tuple[Waiver, ...]


def leaving_of(head: LitterHead, kennel: KennelHere, at: datetime) -> LitterLeaving:
    """What keeps each pup of a litter as of an instant.

    A fixed number of queries, whatever the number of pups; inside an open door.
    """
    pups = selectors.resident_pups([head.uid], kennel.id, at)
    on = local_day(at, kennel.zone)
    records = _records(head.id, kennel.id)
    ids = [pup.id for pup in pups]
    health = _health_of(ids, kennel, at)
    rules = rules_of(kennel, travels=any(record.travels_to for record in records.values()))
    found = []
    for pup, called in zip(pups, told_apart(pups), strict=True):
        facts = _facts(pup, called, head, records[pup.id], health.get(pup.id, HealthFacts()), kennel, on)
        found.append(PupLeaving(pup, leaving(facts, rules, on)))
    return LitterLeaving(tuple(found), rules, on)


def _facts(
    pup: ResidentPup,
    called: str,
    head: LitterHead,
    record: _Record,
    health: HealthFacts,
    kennel: KennelHere,
    on: date,
) -> PupFacts:
    is_weaned = pup.rearing == Rearing.WEANED
    # A chip without its day counts from today: for the order of chip and rabies vaccination that is the careful
    # reading.
    chipped_on = record.chipped_on or (on if record.chip_code else None)
    return PupFacts(
        name=called,
        born_on=local_day(pup.born_at, kennel.zone),
        weaned_on=head.weaned_on if head.weaned_on and head.weaned_on <= on else (on if is_weaned else None),
        weaning_expected_on=head.weaned_on if head.weaned_on and head.weaned_on > on else None,
        chip=record.chip_code,
        chipped_on=chipped_on,
        registered_on=record.registered_on,
        vaccinations=health.vaccinations,
        courses=health.courses,
        treatments=health.treatments,
        watches=health.watches,
        vet_check=health.vet_check,
        booked=record.booked,
        collect_from_on=record.collect_from_on,
        travel=Travel(record.travels_to, health.rabies_on) if record.travels_to else None,
        kept_back=record.kept_back,
        waivers=record.waivers,
    )


def _health_of(pup_ids: Sequence[int], kennel: KennelHere, at: datetime) -> dict[int, HealthFacts]:
    merged: dict[int, HealthFacts] = {}
    for told in _health:
        for pup_id, facts in told(pup_ids, kennel, at).items():
            known = merged.get(pup_id, HealthFacts())
            merged[pup_id] = HealthFacts(
                known.vaccinations + facts.vaccinations,
                known.courses + facts.courses,
                known.treatments + facts.treatments,
                known.watches + facts.watches,
                facts.vet_check or known.vet_check,
                facts.rabies_on or known.rabies_on,
            )
    return merged


_RECORDS = """
    SELECT p.id, p.chip_code, p.chipped_on, p.registered_on, p.kept_back, b.id IS NOT NULL, b.leaves_on,
           COALESCE(b.travels_to, '')
    FROM litters_pup p
    LEFT JOIN LATERAL (
        SELECT id, leaves_on, travels_to FROM litters_booking
        WHERE kennel_id = p.kennel_id AND litter_id = p.litter_id AND pup_id = p.id AND deleted_at IS NULL
          AND ended_on IS NULL ORDER BY id DESC LIMIT 1
    ) b ON true
    WHERE p.kennel_id = %s AND p.litter_id = %s AND p.deleted_at IS NULL LIMIT 200
"""
_WAIVERS = """
    SELECT w.pup_id, w.hold_key, w.why, w.said_by FROM litters_waiver w
    WHERE w.kennel_id = %s AND w.deleted_at IS NULL
      AND w.pup_id IN (SELECT value::bigint FROM json_array_elements_text(%s)) ORDER BY w.id LIMIT 2000
"""


def _records(litter_id: int, kennel_id: int) -> dict[int, _Record]:
    with connection.cursor() as cursor:
        cursor.execute(_RECORDS, [kennel_id, litter_id])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        cursor.execute(_WAIVERS, [kennel_id, store.dump([row[0] for row in rows])])
        waivers: dict[int, list[Waiver]] = defaultdict(list)
        for pup_id, key, why, said_by in cursor.fetchall():
            waivers[pup_id].append(Waiver(key, why, said_by))
    return {
        pup_id: _Record(
            chip, chipped_on, registered_on, kept_back, booked, from_on, to, tuple(waivers[pup_id])
        )
        for pup_id, chip, chipped_on, registered_on, kept_back, booked, from_on, to in rows
    }


def leaving_of_pup(found: LitterLeaving, pup: UUID) -> PupLeaving | None:
    """The pup among its litter; None when it is not here any more."""
    return next((one for one in found.pups if one.pup.uid == pup), None)
