"""What worming, vaccination, courses and weighings ask for, worked out for many occasions at once."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Annotated, Any
from uuid import UUID

from django.db import connection
from pydantic import BaseModel, ConfigDict, Field

from health import duty_texts, plan_dates, selectors
from health.domain.advice import Level as AdviceLevel
from health.domain.dosing import CAUTION, Outcome
from health.doses import DoseAsked, DoseHere, doses_at
from health.plan_dates import AnimalDates, PlanHere
from kennel.clock.wall_clock import instant_of, local_day, zone_of
from kennel.duties import kinds
from kennel.duties.kinds import Animal, Asked, Caution, DutyKind, Occasion
from kennel.records import store
from kennel.records.door import Door

PLAN = "treatment-plan"
# A weight so old at the hour of worming is asked for again; common practice, no source.
WEIGHED_WITHIN = timedelta(hours=24)
USEFUL_DAYS = 7
MOST_CAUTIONS = 20


class WeighFirstSettings(BaseModel):
    """How long before its worming a weighing is asked for, by the clock on the wall."""

    model_config = ConfigDict(extra="forbid")

    minutes: Annotated[int, Field(ge=1, le=720)]


class CourseSettings(BaseModel):
    """The medicine of a course and the animals that are on it, by uid."""

    model_config = ConfigDict(extra="forbid")

    medicine: str
    animals: Annotated[list[str], Field(min_length=1, max_length=60)]


@dataclass(frozen=True)
class _Chosen:
    """The animals of one plan that are due at one instant."""

    plan: PlanHere
    day: date
    at: datetime
    animals: tuple[AnimalDates, ...]


def plan_doses(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """Who is wormed or vaccinated then, with dose, weight and its age; five queries for any number."""
    chosen = _choose(occasions, [o.due_at for o in occasions], door)
    doses = iter(doses_at([one for found in chosen if found for one in _asks_of(found)], door))
    return [None if found is None else _treatment(found, doses) for found in chosen]


def _asks_of(found: _Chosen) -> list[DoseAsked]:
    medicine = found.plan.medicine
    if medicine is None:
        return []
    return [
        DoseAsked(one.type, one.uid, medicine, found.at, plan_dates.gap_before(one, found.day))
        for one in found.animals
    ]


def _choose(occasions: Sequence[Occasion], at: Sequence[datetime], door: Door) -> list[_Chosen | None]:
    """For each occasion the animals due at its instant: by date, overdue, or put off to it."""
    uids = [o.routine.source_uid for o in occasions if o.routine.source_type == PLAN and o.routine.source_uid]
    plans = plan_dates.plans_here(uids, door) if uids else {}
    held = _held(list(plans), door)
    first: dict[int, datetime] = {}
    for occasion in occasions:
        if occasion.only is None:
            first[occasion.routine.id] = min(first.get(occasion.routine.id, occasion.due_at), occasion.due_at)
    dates: dict[tuple[UUID, date], list[AnimalDates]] = {}
    answers: list[_Chosen | None] = []
    for occasion, due_at in zip(occasions, at, strict=True):
        plan = plans.get(occasion.routine.source_uid) if occasion.routine.source_uid else None
        if plan is None:
            answers.append(None)
            continue
        day = local_day(due_at, door.kennel.zone)
        if (plan.uid, day) not in dates:
            dates[plan.uid, day] = plan_dates.dates_of(plan, day, door.kennel.zone)
        is_first = first.get(occasion.routine.id) == occasion.due_at
        animals = tuple(
            one
            for one in dates[plan.uid, day]
            if _is_due(one, occasion, day, is_first, held.get((plan.uid, one.uid), []))
        )
        answers.append(_Chosen(plan, day, due_at, animals) if animals else None)
    return answers


def _is_due(
    one: AnimalDates, occasion: Occasion, day: date, is_first: bool, held: Sequence[tuple[str, date]]
) -> bool:
    if occasion.only is not None:
        return any(animal.key == (one.type, one.uid) for animal in occasion.only)
    if plan_dates.is_due_on(one, day):
        return True
    due = plan_dates.due_on(one)
    if due is None or due > day or not is_first:
        return False
    # Overdue: offered at the next time of day, unless a duty still holds it or somebody skipped it on purpose.
    return not any(state == "outstanding" or (state == "skipped" and on >= due) for state, on in held)


def _held(plans: Sequence[UUID], door: Door) -> dict[tuple[UUID, UUID], list[tuple[str, date]]]:
    """Animals of these plans' duties that are still outstanding or were skipped: (plan, animal) -> state, day."""
    if not plans:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT r.source_uid, a.subject_uid, a.state, d.due_at
            FROM duties_routine r
            JOIN duties_duty d ON d.kennel_id = r.kennel_id AND d.routine_id = r.id AND d.deleted_at IS NULL
            JOIN duties_dutyanimal a ON a.kennel_id = d.kennel_id AND a.duty_id = d.id
            WHERE r.kennel_id = %s AND r.source_type = %s AND r.source_uid = ANY(%s::uuid[])
              AND r.kind IN ('worming', 'vaccination') AND d.due_at > %s
              AND ((a.state = 'outstanding' AND d.state = 'open'
                    AND (d.due_at <= %s OR d.occurrence LIKE 'defer=%%')) OR a.state = 'skipped')
            LIMIT 4000
            """,
            [door.kennel.id, PLAN, store.array(plans), door.at - timedelta(days=60), door.at],
        )
        found: dict[tuple[UUID, UUID], list[tuple[str, date]]] = {}
        for plan, animal, state, due_at in cursor.fetchall():
            found.setdefault((plan, animal), []).append((state, local_day(due_at, door.kennel.zone)))
    return found


def _treatment(found: _Chosen, doses: Iterator[DoseHere | None]) -> Asked:
    medicine = found.plan.medicine
    animals, cautions = [], [Caution("estimate", CAUTION)]
    for one in found.animals:
        dose = next(doses) if medicine is not None else None
        animals.append(Animal(one.type, one.uid, one.called, _dose_asks(dose, one)))
        if dose is not None:
            cautions += [
                Caution(advice.code, f"{one.called}: {advice.text}", one.uid)
                for advice in dose.found.advice
                if advice.level is not AdviceLevel.INFO
            ]
    return Asked(
        animals=animals,
        asks={
            "plan": str(found.plan.uid),
            "scheme": found.plan.row["scheme"],
            "due_on": found.day,
            "medicine": None if medicine is None else medicine["uid"],
            "medicine_name": None if medicine is None else medicine["name"],
            "litter": found.plan.row["litter"],
            "litter_name": found.plan.row["litter_name"],
        },
        cautions=list(dict.fromkeys(cautions))[:MOST_CAUTIONS],
        useful_until=_useful_until(found),
    )


def _useful_until(found: _Chosen) -> datetime:
    """Until the next date of the plan, a week at most: a dose that was missed is never made up later."""
    following = [day for one in found.animals if (day := plan_dates.dates_after(one, found.day)) is not None]
    days = min([(day - found.day).days for day in following] + [USEFUL_DAYS])
    return found.at + timedelta(days=max(1, days))


def _dose_asks(dose: DoseHere | None, one: AnimalDates | None = None) -> dict[str, Any]:
    """What is asked for one animal: the dose, what it stands on, or why there is none yet."""
    if dose is None:
        return {"reason": one.reason} if one is not None and one.reason else {}
    found = dose.found
    reason = "" if found.outcome is Outcome.WORKED_OUT or not found.advice else found.advice[0].text
    return {
        "outcome": found.outcome.value,
        "dose_mg": None if found.dose_mg is None else round(found.dose_mg, 3),
        "amount_text": found.amount_text,
        "stated": found.stated,
        "band": found.band,
        "weight_g": dose.facts.weight_g,
        "weighed_at": dose.facts.weighed_at,
        "weight_age_days": None if found.weight_age_days is None else round(found.weight_age_days, 2),
        "weigh_first": found.weigh_first,
        "reason": reason,
    }


def plan_weigh_first(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """Who is to be weighed for the worming that follows: everybody due whose weight will be older than a day."""
    chosen = _choose(occasions, [_worming_at(o, door.kennel.zone) for o in occasions], door)
    facts = iter(
        selectors.animal_facts(
            [(a.type, a.uid, door.at) for found in chosen if found for a in found.animals], door
        )
    )
    answers: list[Asked | None] = []
    for found in chosen:
        if found is None:
            answers.append(None)
            continue
        animals = []
        for one in found.animals:
            here = next(facts)
            weighed_at = None if here is None else here.weighed_at
            if weighed_at is None or found.at - weighed_at > WEIGHED_WITHIN:
                animals.append(Animal(one.type, one.uid, one.called, {"weighed_at": weighed_at}))
        medicine = found.plan.medicine
        asks = {
            "plan": str(found.plan.uid),
            "for_at": found.at,
            "medicine_name": None if medicine is None else medicine["name"],
            "litter": found.plan.row["litter"],
            "litter_name": found.plan.row["litter_name"],
        }
        answers.append(Asked(animals, asks) if animals else None)
    return answers


def _worming_at(occasion: Occasion, zone: str) -> datetime:
    """The worming a weighing is for: so many minutes later by the clock on the wall."""
    settings = WeighFirstSettings.model_validate(occasion.routine.settings)
    wall = occasion.due_at.astimezone(zone_of(zone)).replace(tzinfo=None) + timedelta(
        minutes=settings.minutes
    )
    return max(instant_of(wall.date(), wall.time(), zone), occasion.due_at + timedelta(minutes=1))


def plan_courses(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """The next dose of a course for those that are on it and still here."""
    settings = [CourseSettings.model_validate(o.routine.settings) for o in occasions]
    medicines = selectors.medicines_by_uid({UUID(one.medicine) for one in settings}, door) if settings else {}
    litters = [o.routine.subject_uid for o in occasions if o.routine.subject_type == "litter"]
    present = {pup for _, pup in selectors.pups_here([uid for uid in litters if uid], door.at, door)}
    chosen: list[list[DoseAsked]] = []
    for occasion, one in zip(occasions, settings, strict=True):
        medicine = medicines.get(UUID(one.medicine))
        kind = "pup" if occasion.routine.subject_type == "litter" else "dog"
        uids = [UUID(uid) for uid in one.animals]
        if occasion.only is not None:
            uids = [uid for uid in uids if any(animal.subject_uid == uid for animal in occasion.only)]
        chosen.append(
            []
            if medicine is None
            else [
                DoseAsked(kind, uid, medicine, occasion.due_at)
                for uid in uids
                if kind == "dog" or uid in present
            ]
        )
    doses = iter(doses_at([one for asks in chosen for one in asks], door))
    return [_course([next(doses) for _ in asks]) for asks in chosen]


def _course(doses: Sequence[DoseHere | None]) -> Asked | None:
    here = [one for one in doses if one is not None and not one.facts.row["is_deleted"]]
    if not here:
        return None
    medicine = here[0].asked.medicine
    return Asked(
        [Animal(one.facts.type, one.facts.uid, one.facts.called, _dose_asks(one)) for one in here],
        {
            "medicine": medicine["uid"],
            "medicine_name": medicine["name"],
            "litter": here[0].facts.row["litter"],
            "litter_name": here[0].facts.row["litter_name"],
        },
        [Caution("estimate", CAUTION)],
    )


def register() -> None:
    """Add the kinds of this module; called once, from `apps.py`."""
    for name, title in (("worming", "Worming"), ("vaccination", "Vaccination")):
        kinds.register(
            DutyKind(
                name,
                title,
                plan=plan_doses,
                describe=duty_texts.dose_text,
                done_by=("treatment",),
                early=timedelta(days=3),
                useful_for=timedelta(days=USEFUL_DAYS),
                escalate_after=timedelta(hours=2),
            )
        )
    kinds.register(
        DutyKind(
            "treatment-course",
            "Next dose of a course",
            plan=plan_courses,
            describe=duty_texts.dose_text,
            done_by=("treatment",),
            early=timedelta(hours=6),
            settings=CourseSettings,
        )
    )
    kinds.register(
        DutyKind(
            "weigh-first",
            "Weigh before worming",
            plan=plan_weigh_first,
            describe=duty_texts.weigh_first_text,
            done_by=("weighing",),
            early=timedelta(hours=12),
            settings=WeighFirstSettings,
        )
    )


__all__ = ["CourseSettings", "WeighFirstSettings", "register"]
