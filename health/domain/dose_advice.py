"""What to mind beside a dose that could be worked out: age of the weight, strengths, last dose, condition."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from health.domain.advice import Advice, Level
from health.domain.dose_amount import Amount, gives_fixed_amount, tablets_as_cut
from health.domain.medicine import Breeding, Form, Medicine, Stated, Supply
from health.domain.patient import DosingLimits, Patient
from health.domain.repeat_doses import PastDose
from health.domain.units import KG_PER_LB, plain

# Macrocyclic lactones; from memory, unverified: a reminder to ask, not a list to rely on.
MACROCYCLIC_LACTONES = frozenset(
    {"ivermectin", "milbemycin oxime", "moxidectin", "selamectin", "doramectin", "eprinomectin", "abamectin"}
)


def dose_advice(
    medicine: Medicine,
    patient: Patient,
    amount: Amount,
    past: Sequence[PastDose],
    cupboard: Sequence[Medicine],
    limits: DosingLimits,
) -> tuple[Advice, ...]:
    """Everything to say beside a worked-out dose."""
    return (
        *_about_weight(medicine, patient, limits),
        *_about_condition(medicine, patient),
        *_about_supply(medicine),
        *_about_last_dose(medicine, amount, past, limits),
        *_about_strength(medicine, cupboard, limits),
        *_about_amount(medicine, patient, amount),
        *_about_units(medicine, patient, amount),
    )


def _about_weight(medicine: Medicine, patient: Patient, limits: DosingLimits) -> Iterator[Advice]:
    if patient.weight_is_stale(limits):
        if patient.weight_age_days is None:
            text = f"It is not known when {patient.name} weighed this: weigh first."
        else:
            days = plain(patient.weight_age_days, 2)
            text = f"The weight is {days} days old: weigh first, this amount belongs to the old weight."
        yield Advice(Level.WARNING, "stale_weight", text)
    if medicine.minimum_age_days is not None and patient.age_days is None:
        text = f"The label begins at {medicine.minimum_age_days} days of age; the age is not on record."
        yield Advice(Level.WARNING, "age_unknown", text, medicine.source)


def _about_condition(medicine: Medicine, patient: Patient) -> Iterator[Advice]:
    states = (
        (patient.pregnant, medicine.pregnancy, "pregnant"),
        (patient.nursing, medicine.nursing, "nursing"),
    )
    for applies, label, word in states:
        if applies and label is Breeding.NOT_RECOMMENDED:
            text = f"The label advises against it for a {word} bitch: ask the vet."
            yield Advice(Level.WARNING, f"{word}_not_recommended", text, medicine.source)
        elif applies and label is Breeding.NOT_STATED:
            text = f"The record does not say whether a {word} bitch may have it: read the label, ask the vet."
            yield Advice(Level.NOTICE, f"{word}_not_stated", text, medicine.source)
    if patient.unwell:
        text = "Not while chilled, ill, crowded or just abruptly weaned; diarrhoea first needs a diagnosis."
        yield Advice(Level.WARNING, "unwell", text, "owner's veterinary handbook (secondary quotation)")
    actives = {medicine.active, *(one.name for one in medicine.other_actives)}
    if patient.sensitive_breed and MACROCYCLIC_LACTONES & {one.casefold() for one in actives}:
        text = "Some herding and related breeds do not bear this group well (MDR1): ask the vet first."
        yield Advice(Level.WARNING, "sensitive_breed", text, "from memory, unverified")


def _about_supply(medicine: Medicine) -> Iterator[Advice]:
    if medicine.supply is not Supply.PRESCRIPTION:
        return
    if medicine.prescriber:
        text = f"Prescription medicine, prescribed by {medicine.prescriber}: the prescription outranks this."
        yield Advice(Level.INFO, "prescription", text)
    else:
        text = "Prescription medicine, and nobody is on record as prescriber: ask the vet first."
        yield Advice(Level.WARNING, "no_prescriber", text)


def _about_last_dose(
    medicine: Medicine, amount: Amount, past: Sequence[PastDose], limits: DosingLimits
) -> Iterator[Advice]:
    active = medicine.active.casefold()
    known = [one for one in past if one.active.casefold() == active and one.dose_mg]
    if not known or amount.dose_mg is None:
        return
    last_mg = max(known, key=lambda one: one.given_at).dose_mg or 0.0
    if amount.dose_mg > limits.second_look_factor * last_mg:
        times = plain(amount.dose_mg / last_mg, 2)
        text = (
            f"{plain(amount.dose_mg)} mg is {times} times the last dose ({plain(last_mg)} mg): check weight, "
            "unit and strength once more."
        )
        yield Advice(Level.NOTICE, "second_look", text)


def _about_strength(
    medicine: Medicine, cupboard: Sequence[Medicine], limits: DosingLimits
) -> Iterator[Advice]:
    if medicine.strength is None:
        return
    for other in cupboard:
        if other.name == medicine.name or other.active.casefold() != medicine.active.casefold():
            continue
        if other.strength is None or other.strength.per != medicine.strength.per:
            continue
        ratio = other.strength.mg_per_part / medicine.strength.mg_per_part
        if max(ratio, 1 / ratio) >= limits.strength_gap_factor:
            text = (
                f"{other.name} holds {medicine.active} too, {plain(max(ratio, 1 / ratio), 2)} times "
                f"{'stronger' if ratio > 1 else 'weaker'}: {other.strength.in_words}. This amount is for "
                f"{medicine.strength.in_words}; read the strength on the bottle in your hand."
            )
            yield Advice(Level.NOTICE, "strengths_far_apart", text)


def _about_amount(medicine: Medicine, patient: Patient, amount: Amount) -> Iterator[Advice]:
    if amount.parts is None:
        text = "The strength of the product is not on record, so nothing to measure out is worked out."
        yield Advice(Level.NOTICE, "strength_unknown", text)
        return
    if (
        medicine.form is not Form.TABLET
        or patient.mass_kg is None
        or gives_fixed_amount(medicine, patient.mass_kg)
    ):
        return
    lower, upper = tablets_as_cut(amount.parts, medicine.tablet_parts)
    if lower == upper:
        return
    text = (
        f"{amount.in_words} cannot be cut exactly: {plain(lower)} is {_share(lower, amount.parts)} of the "
        f"label's amount, {plain(upper)} is {_share(upper, amount.parts)}. Label or vet decide which."
    )
    yield Advice(Level.NOTICE, "tablet_cannot_be_cut", text)


def _about_units(medicine: Medicine, patient: Patient, amount: Amount) -> Iterator[Advice]:
    if amount.dose_mg is not None and patient.mass_kg is not None:
        per_kg = amount.dose_mg / patient.mass_kg
        text = (
            f"{plain(amount.dose_mg)} {amount.stated_in_words} for {plain(patient.mass_kg, 4)} kilograms: "
            f"{plain(per_kg)} milligrams for each kilogram, which is {plain(per_kg * KG_PER_LB)} milligrams "
            "for each pound. Compare with the label, which may use either."
        )
        yield Advice(Level.INFO, "unit_in_words", text)
    if medicine.strength is not None:
        kind = (
            "" if medicine.strength_stated is Stated.AS_IS else f", as the {medicine.strength_stated.value}"
        )
        text = f"Worked out for a product with {medicine.strength.in_words}{kind}."
        yield Advice(Level.INFO, "strength_in_words", text)
    if medicine.least_dose:
        text = "The label states a least amount: not less than this, and not more without the vet's word."
        yield Advice(Level.INFO, "least_amount", text, medicine.source)
    if medicine.label_note:
        yield Advice(Level.INFO, "label_note", medicine.label_note, medicine.source)


def _share(parts: float, wanted: float) -> str:
    return f"{plain(100 * parts / wanted)} %"
