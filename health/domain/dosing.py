"""How much of a medicine an animal gets by the product's own label, with the advice that belongs beside it.

An estimate to be read against the label in the hand and the vet's word, never instead of them. Nothing is
rounded up to a next band, nothing is worked out for items only a vet may dose, and no number is shown for
an animal under the label's minimum age or weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from health.domain.advice import Advice, Level, loudest_first
from health.domain.dose_advice import dose_advice
from health.domain.dose_amount import Amount, band_for, band_in_words, work_out
from health.domain.medicine import EDGE_KG, Medicine
from health.domain.patient import DEFAULT_LIMITS, DosingLimits, Patient
from health.domain.repeat_doses import PastDose, repeat_advice
from health.domain.units import plain

CAUTION = (
    "An estimate. Read the label in your hand and follow the vet's instruction; weigh first; ask who has "
    "dosed already; write down lot and expiry. Gloves on, hands washed afterwards. Many of these need a "
    "prescription."
)
_STAYS = "Not dosed; stays outstanding and is offered again when it passes."


class Outcome(StrEnum):
    """What became of the question for a dose."""

    WORKED_OUT = "worked out"
    OUTSTANDING = "outstanding"  # under the label's minimum: not dosed, offered again when it passes
    WEIGH_FIRST = "weigh first"  # no weight at all
    VET_ONLY = "vet only"
    NOT_COMPUTABLE = "not computable"  # the record does not say enough, or the weight is off its table


@dataclass(frozen=True)
class Dose:
    """The answer: amounts (None unless worked out), how they came about, and what to mind.

    dose_mg: active per single dose, base or salt as `stated`; amount in `amount_unit` (mL, g or tablet),
    not rounded; amount_text for people. least_amount: the label says "at least". course_*: over all days of
    the course. needs_*: what an outstanding animal still lacks. weigh_first: the weight is missing or too
    old to rely on.
    """

    medicine: str
    animal: str
    outcome: Outcome
    dose_mg: float | None = None
    stated: str = ""
    amount: float | None = None
    amount_unit: str = ""
    amount_text: str = ""
    least_amount: bool = False
    other_actives_mg: tuple[tuple[str, float], ...] = ()
    course_days: int | None = None
    course_mg: float | None = None
    course_amount: float | None = None
    band: str = ""
    method: str = ""
    mass_kg: float | None = None
    weight_age_days: float | None = None
    weigh_first: bool = False
    needs_age_days: int | None = None
    needs_mass_kg: float | None = None
    advice: tuple[Advice, ...] = ()
    source: str = ""
    caution: str = field(default=CAUTION)


def dose(
    medicine: Medicine,
    patient: Patient,
    *,
    at: datetime,
    past: Sequence[PastDose] = (),
    plan_gap_days: float | None = None,
    cupboard: Sequence[Medicine] = (),
    expires_on: date | None = None,
    today: date | None = None,
    limits: DosingLimits = DEFAULT_LIMITS,
) -> Dose:
    """What the label gives this animal at `at`, or why there is no number.

    past: the animal's own doses. plan_gap_days: days the plan sets between doses. cupboard: the kennel's
    medicines, to catch strengths of one active that lie far apart. expires_on, today: of the lot in hand.
    Raises ValueError for impossible masses, ages, gaps and instants without offset. The method is the
    product record's (its `source`); limits of weight age and the second looks are common practice.
    """
    if at.utcoffset() is None:
        raise ValueError("an instant needs an offset")
    repeats = repeat_advice(medicine, past, at, plan_gap_days)
    if medicine.vet_only:
        return _without_number(medicine, patient, Outcome.VET_ONLY, (_ask_the_vet(medicine), *repeats))
    stale = patient.weight_is_stale(limits)
    missing = minimums_not_met(medicine, patient)
    if missing:
        return _without_number(
            medicine,
            patient,
            Outcome.OUTSTANDING,
            (*missing, *repeats),
            weigh_first=stale,
            needs_age_days=_needed_age(medicine, patient),
            needs_mass_kg=_needed_mass(medicine, patient),
        )
    if patient.mass_kg is None:
        text = f"{patient.name} has no weight on record: weigh first, a dose is never guessed."
        advice = (Advice(Level.WARNING, "no_weight", text), *repeats)
        return _without_number(medicine, patient, Outcome.WEIGH_FIRST, advice, weigh_first=True)
    worked_out = work_out(medicine, patient.mass_kg)
    if isinstance(worked_out, Advice):
        return _without_number(medicine, patient, Outcome.NOT_COMPUTABLE, (worked_out, *repeats))
    advice = (
        *repeats,
        *dose_advice(medicine, patient, worked_out, past, cupboard, limits),
        *_expiry(expires_on, today),
    )
    return _with_number(medicine, patient, worked_out, advice, stale)


def minimums_not_met(medicine: Medicine, patient: Patient) -> tuple[Advice, ...]:
    """Why an animal is still under the label's minimum age or weight; empty when it is not known to be.

    The day of the minimum age and the very weight count as met. The weighing that empties this list is the
    one that offers the dose again.
    """
    found = []
    age = _needed_age(medicine, patient)
    if age is not None:
        text = f"The label begins at {age} days of age; {patient.name} is {patient.age_days}. {_STAYS}"
        found.append(Advice(Level.WARNING, "under_minimum_age", text, medicine.source))
    mass = _needed_mass(medicine, patient)
    if mass is not None and patient.mass_kg is not None:
        text = (
            f"The label begins at {plain(mass, 4)} kg ({plain(mass * 1000, 4)} g); {patient.name} weighs "
            f"{plain(patient.mass_kg, 4)} kg. {_STAYS}"
        )
        found.append(Advice(Level.WARNING, "under_minimum_weight", text, medicine.source))
    return tuple(found)


def _needed_age(medicine: Medicine, patient: Patient) -> int | None:
    if medicine.minimum_age_days is None or patient.age_days is None:
        return None
    return medicine.minimum_age_days if patient.age_days < medicine.minimum_age_days else None


def _needed_mass(medicine: Medicine, patient: Patient) -> float | None:
    if patient.mass_kg is None:
        return None
    least = max(medicine.minimum_mass_kg or 0.0, medicine.bands[0].from_kg if medicine.bands else 0.0)
    return least if patient.mass_kg < least - EDGE_KG else None


def _ask_the_vet(medicine: Medicine) -> Advice:
    text = (
        f"{medicine.name} is dosed by a vet only: no amount is given here. Write down what the vet ordered."
    )
    return Advice(Level.WARNING, "vet_only", text, "label or law; see the medicine's record")


def _without_number(
    medicine: Medicine,
    patient: Patient,
    outcome: Outcome,
    advice: tuple[Advice, ...],
    *,
    weigh_first: bool = False,
    needs_age_days: int | None = None,
    needs_mass_kg: float | None = None,
) -> Dose:
    return Dose(
        medicine=medicine.name,
        animal=patient.name,
        outcome=outcome,
        mass_kg=patient.mass_kg,
        weight_age_days=patient.weight_age_days,
        weigh_first=weigh_first,
        needs_age_days=needs_age_days,
        needs_mass_kg=needs_mass_kg,
        advice=loudest_first(advice),
        source=medicine.source,
    )


def _with_number(
    medicine: Medicine, patient: Patient, amount: Amount, advice: tuple[Advice, ...], stale: bool
) -> Dose:
    days = medicine.course_days
    mass_kg = patient.mass_kg or 0.0
    return Dose(
        medicine=medicine.name,
        animal=patient.name,
        outcome=Outcome.WORKED_OUT,
        dose_mg=amount.dose_mg,
        stated=amount.stated_in_words,
        amount=amount.parts,
        amount_unit=amount.unit,
        amount_text=amount.in_words,
        least_amount=medicine.least_dose,
        other_actives_mg=amount.other_actives_mg,
        course_days=days,
        course_mg=None if amount.dose_mg is None else amount.dose_mg * days,
        course_amount=None if amount.parts is None else amount.parts * days,
        band=band_in_words(medicine, mass_kg),
        method=band_for(medicine, mass_kg).give.in_words,
        mass_kg=patient.mass_kg,
        weight_age_days=patient.weight_age_days,
        weigh_first=stale,
        advice=loudest_first(advice),
        source=medicine.source,
    )


def _expiry(expires_on: date | None, today: date | None) -> tuple[Advice, ...]:
    if expires_on is None or today is None or expires_on >= today:
        return ()
    return (Advice(Level.WARNING, "expired", f"This lot expired on {expires_on}: do not use it."),)
