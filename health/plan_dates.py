"""Which animal of a plan is due when: the domain's dates for every animal of any number of plans, in two queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health.choices import PlanKind
from health.domain.scheme_steps import PlanFacts
from health.domain.treatment_plans import Plan, State, plan
from health.domain.vaccination import SeriesState, series_state
from health.plan_data import rule_of, scheme_of
from health.selectors import MOST_ANIMALS, instant, medicine_json
from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import Door
from litters.selectors import AWAY

# How far ahead dates are worked out beyond the day asked about.
HORIZON_DAYS = 120
# A later dose of one course (three days running) counts with its first for the dates of a plan.
COURSE_SLACK_DAYS = 1

# Pups that are here, the dam of a dam's scheme, or the plan's own dog, each with the days it was dosed on.
_PLANS = f"""
    SELECT json_build_object('uid', t.uid, 'kind', t.kind, 'scheme', t.scheme, 'phases', t.phases,
        'series', t.series, 'starts_on', t.starts_on, 'wall_time', t.wall_time, 'recorded_at', t.recorded_at,
        'medicine', {medicine_json("m")}, 'litter', l.uid, 'litter_name', l.name, 'whelped_at', l.whelped_at,
        'mated_on', l.mated_on, 'weaned_on', l.weaned_on, 'name', t.name, 'animals', animals.list,
        'pups_first_at', (SELECT min(x.occurred_at) FROM health_treatment x
            JOIN litters_pup y ON y.kennel_id = x.kennel_id AND y.id = x.pup_id
            JOIN health_medicine z ON z.kennel_id = x.kennel_id AND z.id = x.medicine_id
            WHERE y.kennel_id = t.kennel_id AND y.litter_id = t.litter_id AND x.deleted_at IS NULL
              AND z.purpose = 'worming'))::text
    FROM health_treatmentplan t
    LEFT JOIN health_medicine m ON m.kennel_id = t.kennel_id AND m.id = t.medicine_id
    LEFT JOIN litters_litter l ON l.kennel_id = t.kennel_id AND l.id = t.litter_id
    CROSS JOIN LATERAL (
        SELECT COALESCE(json_agg(json_build_object('type', one.type, 'uid', one.uid, 'called', one.called,
            'born_at', one.born_at, 'born_on', one.born_on, 'given', given.list)
            ORDER BY one.birth_order NULLS LAST, one.id), '[]') AS list
        FROM (
            SELECT 'pup' AS type, p.id, p.uid, p.birth_order, p.born_at, NULL::date AS born_on,
                COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0)) AS called
            FROM litters_pup p
            WHERE p.kennel_id = t.kennel_id AND p.litter_id = t.litter_id AND p.deleted_at IS NULL
              AND p.fate = 'living' AND NOT t.scheme LIKE 'dam%%' AND NOT {AWAY}
            UNION ALL
            SELECT 'dog', d.id, d.uid, NULL, NULL, d.born_on, d.name FROM litters_dog d
            WHERE d.kennel_id = t.kennel_id AND d.deleted_at IS NULL
              AND d.id = CASE WHEN t.scheme LIKE 'dam%%' THEN l.dam_id ELSE t.dog_id END
            LIMIT {MOST_ANIMALS}
        ) one
        CROSS JOIN LATERAL (
            SELECT COALESCE(json_agg(g.occurred_at ORDER BY g.occurred_at), '[]') AS list FROM (
                SELECT g.occurred_at FROM health_treatment g
                WHERE g.kennel_id = t.kennel_id AND g.deleted_at IS NULL AND g.possible_duplicate_of IS NULL
                  AND ((one.type = 'pup' AND g.pup_id = one.id) OR (one.type = 'dog' AND g.dog_id = one.id))
                  AND (g.plan_id = t.id OR (g.plan_id IS NULL AND g.medicine_id = t.medicine_id))
                ORDER BY g.occurred_at LIMIT 400
            ) g
        ) given
    ) animals
    WHERE t.kennel_id = %(kennel)s AND t.uid = ANY(%(plans)s::uuid[]) AND t.deleted_at IS NULL
    ORDER BY t.id
"""  # noqa: S608 - constants of this module


@dataclass(frozen=True)
class AnimalDates:
    """One animal of a plan: its dates by the scheme, or the state of its series; `reason` when there are none."""

    type: str
    uid: UUID
    called: str
    given_on: tuple[date, ...]
    worming: Plan | None = None
    series: SeriesState | None = None
    reason: str = ""


@dataclass(frozen=True)
class PlanHere:
    """A plan, what was read of it, and its animals' facts."""

    uid: UUID
    row: dict[str, Any]

    @property
    def medicine(self) -> dict[str, Any] | None:
        """The plan's medicine, a row of `selectors`."""
        found: dict[str, Any] | None = self.row["medicine"]
        return found


def plans_here(uids: Sequence[UUID], door: Door) -> dict[UUID, PlanHere]:
    """Plans of this kennel with their animals and doses, by uid.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(_PLANS, {"kennel": door.kennel.id, "plans": store.array(uids), "at": door.at})
        rows = [store.load(text) for (text,) in cursor.fetchall()]
    return {UUID(row["uid"]): PlanHere(UUID(row["uid"]), row) for row in rows}


def dates_of(here: PlanHere, today: date, zone: str) -> list[AnimalDates]:
    """Each animal's own dates when nothing more is given before `today`."""
    return [_animal(here.row, one, today, zone) for one in here.row["animals"]]


def _animal(row: dict[str, Any], one: dict[str, Any], today: date, zone: str) -> AnimalDates:
    given = _course_starts([local_day(datetime.fromisoformat(text), zone) for text in one["given"]], row)
    born = one["born_on"] if one["born_at"] is None else None
    born_on = (
        local_day(datetime.fromisoformat(one["born_at"]), zone)
        if one["born_at"] is not None
        else (None if born is None else date.fromisoformat(born))
    )
    given = [day for day in given if born_on is None or day >= born_on]
    common = (one["type"], UUID(one["uid"]), one["called"], tuple(given))
    try:
        if row["kind"] == PlanKind.VACCINATION:
            if born_on is None:
                return AnimalDates(*common, reason="The day of birth is not on record.")
            return AnimalDates(*common, series=series_state(rule_of(row), born_on, given))
        facts = _facts(row, born_on, today, zone)
        return AnimalDates(*common, worming=plan(scheme_of(row), facts, given, today))
    except ValueError as error:
        return AnimalDates(*common, reason=f"No dates: {error}.")


def _facts(row: dict[str, Any], born_on: date | None, today: date, zone: str) -> PlanFacts:
    whelped_at, first_at = instant(row["whelped_at"]), instant(row["pups_first_at"])
    started = local_day(datetime.fromisoformat(row["recorded_at"]), zone)
    return PlanFacts(
        today + timedelta(days=HORIZON_DAYS),
        born_on=born_on,
        weaned_on=_day(row["weaned_on"]),
        mated_on=_day(row["mated_on"]),
        whelped_on=None if whelped_at is None else local_day(whelped_at, zone),
        pups_first_dose_on=None if first_at is None else local_day(first_at, zone),
        plan_starts_on=_day(row["starts_on"]) or started,
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _course_starts(days: Sequence[date], row: dict[str, Any]) -> list[date]:
    """First days of courses: a dose within the course's length of its first day belongs to it."""
    # A scheme with a dose every day has each day as a date of its own.
    daily = any(phase["every_days"] == 1 for phase in row["phases"] or ())
    length = int(row["medicine"]["course_days"]) if row["medicine"] and not daily else 1
    starts: list[date] = []
    for day in sorted(set(days)):
        if length == 1 or not starts or (day - starts[-1]).days >= length + COURSE_SLACK_DAYS:
            starts.append(day)
    return starts


def due_on(animal: AnimalDates) -> date | None:
    """The first date that is still due; for a series its next dose, or the booster."""
    if animal.worming is not None:
        found = animal.worming.next_due
        return None if found is None else found.due_on
    if animal.series is None:
        return None
    if animal.series.next_dose is not None:
        following = animal.series.next_dose
        return following.usual_until_on if animal.given_on else following.not_before_on
    return animal.series.booster_on


def dates_after(animal: AnimalDates, day: date) -> date | None:
    """The next date after a day."""
    if animal.worming is not None:
        return next(
            (one.due_on for one in animal.worming.dates if one.state is State.DUE and one.due_on > day), None
        )
    return None


def gap_before(animal: AnimalDates, day: date) -> float | None:
    """Days the scheme puts before that date."""
    if animal.worming is None:
        return None
    found = next((one for one in animal.worming.dates if one.due_on == day), None)
    return None if found is None or found.gap_days is None else float(found.gap_days)


def is_due_on(animal: AnimalDates, day: date) -> bool:
    """Whether one of its dates is that very day."""
    if animal.worming is not None:
        return any(one.state is State.DUE and one.due_on == day for one in animal.worming.dates)
    return due_on(animal) == day
