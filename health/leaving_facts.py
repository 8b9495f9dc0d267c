"""What the health of pups asks for before they leave: vaccinations, worming, courses, watches, illness, rabies.

One dose of each series planned for the litter is asked for; later ones only when their usual day has come, for a
series runs on past the day a pup goes home.  Rabies keeps only pups that travel, by the rules of the journey.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health import plan_dates
from health.choices import HealthEventKind
from health.domain.dosing import Outcome
from health.domain.repeat_doses import course_ends_at
from health.domain.vaccination import RABIES, RULES
from health.domain.worming_schemes import SCHEMES
from health.doses import DoseAsked, DoseHere, doses_at
from health.plan_dates import AnimalDates, PlanHere
from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import SERVER, Door, KennelHere
from litters.domain.leaving import DueTreatment, NeededVaccination, OpenWatch, RunningCourse
from litters.services.leavings import HealthFacts

# So long an illness that nobody said was over keeps a pup; common practice, no source.
ILL_DAYS = 14
# A waiver names its hold in at most 120 characters.
MOST_NAME = 90

_PLANS = """
    SELECT DISTINCT t.uid FROM litters_pup p
    JOIN health_treatmentplan t ON t.kennel_id = p.kennel_id AND t.litter_id = p.litter_id
    WHERE p.kennel_id = %s AND p.id = ANY(%s) AND t.deleted_at IS NULL
      AND (t.ended_on IS NULL OR t.ended_on > %s) ORDER BY t.uid LIMIT 60
"""
_OF_PUPS = """
    SELECT p.id, json_build_object('uid', p.uid, 'watches', watches.list, 'ill', ill.list, 'courses', courses.list,
        'rabies_at', rabies.at)::text
    FROM litters_pup p
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_object('uid', h.uid, 'at', h.opened_at, 'note', h.note,
            'reason', h.reasons ->> 0)), '[]') AS list FROM (
            SELECT * FROM health_watch h
            WHERE h.kennel_id = p.kennel_id AND h.pup_id = p.id AND h.deleted_at IS NULL AND h.opened_at <= %(at)s
              AND (h.closed_at IS NULL OR h.closed_at > %(at)s) ORDER BY h.opened_at, h.id LIMIT 10) h
    ) watches
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_object('uid', e.uid, 'at', e.occurred_at, 'kind', e.kind)), '[]') AS list
        FROM (
            SELECT * FROM health_healthevent e
            WHERE e.kennel_id = p.kennel_id AND (e.pup_id = p.id OR e.litter_id = p.litter_id)
              AND e.deleted_at IS NULL AND e.kind IN ('diarrhoea', 'vomiting', 'illness', 'injury')
              AND e.occurred_at <= %(at)s AND e.occurred_at > %(at)s - make_interval(days => %(ill_days)s)
              AND (e.ended_on IS NULL OR e.ended_on > %(on)s) ORDER BY e.occurred_at, e.id LIMIT 10) e
    ) ill
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(c), '[]') AS list FROM (
            SELECT m.name, m.course_days, m.dose_interval_h, json_agg(g.occurred_at) AS given
            FROM health_treatment g JOIN health_medicine m ON m.kennel_id = g.kennel_id AND m.id = g.medicine_id
            WHERE g.kennel_id = p.kennel_id AND g.pup_id = p.id AND g.deleted_at IS NULL
              AND g.possible_duplicate_of IS NULL AND m.course_days > 1 AND g.occurred_at <= %(at)s
            GROUP BY m.id, m.name, m.course_days, m.dose_interval_h ORDER BY m.name LIMIT 20) c
    ) courses
    CROSS JOIN LATERAL (
        SELECT max(g.occurred_at) AS at
        FROM health_treatment g JOIN health_medicine m ON m.kennel_id = g.kennel_id AND m.id = g.medicine_id
        LEFT JOIN health_treatmentplan t ON t.kennel_id = g.kennel_id AND t.id = g.plan_id
        WHERE g.kennel_id = p.kennel_id AND g.pup_id = p.id AND g.deleted_at IS NULL AND g.occurred_at <= %(at)s
          AND (t.scheme = 'rabies' OR (m.purpose = 'vaccination' AND m.active ILIKE '%%rabies%%'))
    ) rabies
    WHERE p.kennel_id = %(kennel)s AND p.id = ANY(%(pups)s)
"""


def health_facts(pup_ids: Sequence[int], kennel: KennelHere, at: datetime) -> dict[int, HealthFacts]:
    """What each of these pups still needs, by internal id.  At most five queries for any number of pups."""
    on = local_day(at, kennel.zone)
    door = Door(kennel, SERVER, at)
    with connection.cursor() as cursor:
        cursor.execute(
            _OF_PUPS,
            {"kennel": kennel.id, "pups": list(pup_ids), "at": at, "on": on, "ill_days": ILL_DAYS},
        )
        rows = {pup_id: store.load(text) for pup_id, text in cursor.fetchall()}
        cursor.execute(_PLANS, [kennel.id, list(pup_ids), on])
        plans = [uid for (uid,) in cursor.fetchall()]
    dated = [
        (plan, animal)
        for plan in plan_dates.plans_here(plans, door).values()
        for animal in plan_dates.dates_of(plan, on, kennel.zone)
        if animal.type == "pup"
    ]
    vaccinations = _vaccinations(dated, on)
    treatments = _treatments(dated, on, door)
    return {
        pup_id: HealthFacts(
            vaccinations=tuple(vaccinations.get(UUID(row["uid"]), ())),
            courses=tuple(_courses(row["courses"], at, kennel.zone)),
            treatments=tuple(treatments.get(UUID(row["uid"]), ())),
            watches=tuple(_watches(row, kennel.zone)),
            rabies_on=None if row["rabies_at"] is None else _day(row["rabies_at"], kennel.zone),
        )
        for pup_id, row in rows.items()
    }


def _vaccinations(
    dated: Iterable[tuple[PlanHere, AnimalDates]], on: date
) -> dict[UUID, list[NeededVaccination]]:
    found: dict[UUID, list[NeededVaccination]] = {}
    for plan, animal in dated:
        following = None if animal.series is None else animal.series.next_dose
        if following is None or plan.row["scheme"] == RABIES.key:
            continue
        if not animal.given_on:
            # Nothing restarts before there is a first dose, so it has no last day.
            needed = NeededVaccination(_name(plan), following.not_before_on)
        elif following.usual_until_on <= on:
            needed = NeededVaccination(_name(plan), following.not_before_on, following.latest_on)
        else:
            continue
        found.setdefault(animal.uid, []).append(needed)
    return found


def _treatments(
    dated: Iterable[tuple[PlanHere, AnimalDates]], on: date, door: Door
) -> dict[UUID, list[DueTreatment]]:
    """Worming dates that have come, with the day on which the label lets each pup have it."""
    due = [
        (plan, animal, day)
        for plan, animal in dated
        if animal.worming is not None and (day := plan_dates.due_on(animal)) is not None and day <= on
    ]
    asked = [DoseAsked("pup", animal.uid, plan.medicine, door.at) for plan, animal, _ in due if plan.medicine]
    doses = iter(doses_at(asked, door))
    found: dict[UUID, list[DueTreatment]] = {}
    for plan, animal, day in due:
        dose = next(doses) if plan.medicine else None
        possible_on, reason = _possible(dose, on, door.kennel.zone)
        found.setdefault(animal.uid, []).append(DueTreatment(_name(plan), day, possible_on, reason))
    return found


def _possible(dose: DoseHere | None, on: date, zone: str) -> tuple[date | None, str]:
    """(first day on which the label allows it, why not today): None when it waits for weight."""
    if dose is None or dose.found.outcome is not Outcome.OUTSTANDING:
        return on, ""
    reason = dose.found.advice[0].text
    born_at = dose.facts.row["born_at"]
    if dose.found.needs_mass_kg is not None or dose.found.needs_age_days is None or born_at is None:
        return None, reason
    return max(on, _day(born_at, zone) + timedelta(days=dose.found.needs_age_days)), reason


def _courses(rows: Iterable[Mapping[str, Any]], at: datetime, zone: str) -> list[RunningCourse]:
    found = []
    for row in rows:
        given = [datetime.fromisoformat(text) for text in row["given"]]
        ends_at = course_ends_at(given, row["course_days"], float(row["dose_interval_h"]), at)
        if ends_at is not None:
            found.append(RunningCourse(row["name"][:MOST_NAME], local_day(ends_at, zone)))
    return found


def _watches(row: Mapping[str, Any], zone: str) -> list[OpenWatch]:
    watched = [
        OpenWatch(one["reason"] or one["note"] or "somebody opened it", _day(one["at"], zone), one["uid"])
        for one in row["watches"]
    ]
    ill = [
        OpenWatch(
            f"{HealthEventKind(one['kind']).label}, not said to be over", _day(one["at"], zone), one["uid"]
        )
        for one in row["ill"]
    ]
    return watched + ill


def _name(plan: PlanHere) -> str:
    scheme = plan.row["scheme"]
    if plan.row["name"]:
        return str(plan.row["name"])[:MOST_NAME]
    if scheme in RULES:
        return RULES[scheme].name[:MOST_NAME]
    medicine = plan.medicine
    return f"Worming ({medicine['name'] if medicine else SCHEMES[scheme].body})"[:MOST_NAME]


def _day(text: str, zone: str) -> date:
    return local_day(datetime.fromisoformat(text), zone)
