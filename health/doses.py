"""The dose of a medicine for animals of the kennel: records put before the domain's arithmetic, many at once."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from health import selectors
from health.domain.dosing import Dose, dose
from health.domain.medicine import Medicine
from health.domain.patient import DEFAULT_LIMITS, Patient
from health.domain.repeat_doses import PastDose
from health.medicine_data import medicine_of
from health.selectors import AnimalFacts
from kennel.clock.wall_clock import local_day
from kennel.records.door import Door

# Herding and related breeds in which the MDR1 variant occurs; from memory, unverified: a reminder to ask.
SENSITIVE_WORDS = ("collie", "sheepdog", "shepherd", "shetland")


@dataclass(frozen=True)
class DoseAsked:
    """An animal ("pup" or "dog"), a medicine (a row of `selectors`), and the instant it would be given."""

    type: str
    uid: UUID
    medicine: dict[str, Any]
    at: datetime
    plan_gap_days: float | None = None
    expires_on: date | None = None


@dataclass(frozen=True)
class DoseHere:
    """The dose for one animal, and the facts it stands on."""

    asked: DoseAsked
    facts: AnimalFacts
    found: Dose


def doses_at(asked: Sequence[DoseAsked], door: Door) -> list[DoseHere | None]:
    """The dose of each, in order; None for an animal that is not in this kennel.  Two queries for any number.

    For an instant ahead the facts of now count.
    """
    if not asked:
        return []
    facts = selectors.animal_facts([(one.type, one.uid, min(one.at, door.at)) for one in asked], door)
    shelf = [medicine_of(row) for row in selectors.cupboard(door)]
    return [
        None if here is None else DoseHere(one, here, dose_of(one, here, shelf, door.kennel.zone))
        for one, here in zip(asked, facts, strict=True)
    ]


def dose_of(asked: DoseAsked, facts: AnimalFacts, shelf: Sequence[Medicine], zone: str) -> Dose:
    """The dose for an animal whose facts are known."""
    return dose(
        medicine_of(asked.medicine),
        patient_of(facts, asked.at, zone),
        at=asked.at,
        past=past_of(facts),
        plan_gap_days=asked.plan_gap_days,
        cupboard=shelf,
        expires_on=asked.expires_on,
        today=local_day(asked.at, zone),
    )


def born_on(facts: AnimalFacts, zone: str) -> date | None:
    """The day of birth by the kennel's calendar."""
    born_at = selectors.instant(facts.row["born_at"])
    return selectors.day(facts.row["born_on"]) if born_at is None else local_day(born_at, zone)


def patient_of(facts: AnimalFacts, at: datetime, zone: str, weight_g: float | None = None) -> Patient:
    """The animal as a dose needs it; weight_g: of that very moment, instead of the newest on record."""
    born = born_on(facts, zone)
    age_days = None if born is None else max(0, (local_day(at, zone) - born).days)
    grams = facts.weight_g if weight_g is None else weight_g
    weighed_at = facts.weighed_at if weight_g is None else at
    weight_age = None if weighed_at is None else max(0.0, (at - weighed_at).total_seconds() / 86_400)
    breed = (facts.row["breed"] or "").casefold()
    return Patient(
        facts.called,
        mass_kg=None if grams is None or not 1 <= grams <= 120_000 else grams / 1000,
        weight_age_days=weight_age,
        age_days=age_days,
        pregnant=bool(facts.row["is_pregnant"]),
        nursing=bool(facts.row["is_nursing"]),
        unwell=bool(facts.row["unwell"]),
        sensitive_breed=any(word in breed for word in SENSITIVE_WORDS),
    )


def past_of(facts: AnimalFacts, without: UUID | None = None) -> list[PastDose]:
    """The animal's earlier doses; without: uid of a treatment that is being corrected."""
    return [
        PastDose(
            one["medicine"],
            one["active"],
            datetime.fromisoformat(one["given_at"]),
            None if one["dose_mg"] is None else float(one["dose_mg"]),
            one["by"] or "",
            one["outcome"] == "given",
        )
        for one in facts.row["past"]
        if without is None or one["uid"] != str(without)
    ]


def dose_json(here: DoseHere) -> dict[str, Any]:
    """A dose as the API answers it; amounts are null unless they may be said."""
    found = here.found
    return {
        "animal_type": here.facts.type,
        "animal": here.facts.uid,
        "name": here.facts.called,
        "medicine": here.asked.medicine["uid"],
        "medicine_name": found.medicine,
        "at": here.asked.at,
        "outcome": found.outcome.value,
        "dose_mg": _round(found.dose_mg, 4),
        "stated": found.stated,
        "amount": _round(found.amount, 4),
        "amount_unit": found.amount_unit,
        "amount_text": found.amount_text,
        "least_amount": found.least_amount,
        "other_actives_mg": dict(found.other_actives_mg),
        "course_days": found.course_days,
        "course_mg": _round(found.course_mg, 4),
        "course_amount": _round(found.course_amount, 4),
        "band": found.band,
        "method": found.method,
        "weight_g": here.facts.weight_g,
        "weighed_at": here.facts.weighed_at,
        "weight_age_days": _round(found.weight_age_days, 2),
        "weigh_first": found.weigh_first,
        "needs_age_days": found.needs_age_days,
        "needs_weight_g": None if found.needs_mass_kg is None else round(found.needs_mass_kg * 1000, 1),
        "advice": [{**asdict(one), "level": one.level.value} for one in found.advice],
        "source": found.source,
        "caution": found.caution,
    }


def _round(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)


__all__ = ["DEFAULT_LIMITS", "DoseAsked", "DoseHere", "dose_json", "dose_of", "doses_at"]
