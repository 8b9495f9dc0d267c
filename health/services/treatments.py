"""Rules of treatments: what was measured out and the dose agree, advice stays beside the fact, doubles are linked."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import connection

from health import selectors
from health.choices import Purpose
from health.domain.advice import Level
from health.domain.dosing import Dose, Outcome, dose
from health.domain.medicine import Form, Medicine
from health.domain.patient import DEFAULT_LIMITS
from health.domain.units import plain
from health.doses import past_of, patient_of
from health.medicine_data import medicine_of
from health.selectors import AnimalFacts
from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.services.presence import warn_absent

PARTS = {Form.LIQUID: ("mL",), Form.GRANULES: ("g",), Form.TABLET: ("tablet",), Form.PASTE: ("g", "mL")}
NEAR_MINUTES = 60
# A recorded dose so many times the label's (or under that part of it) is worth a second look; common practice.
FAR_FROM_LABEL = 1.5
# Worth saying beside a dose that is still to be measured out, not beside one that was given.
_ONLY_BEFORE = {"second_look", "strengths_far_apart", "tablet_cannot_be_cut", "no_weight"}


def treatments_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in dose, amount, weight and prescriber, and keep the advice beside the fact.  A fixed number of queries."""
    known = [d for d in drafts if "medicine" in d.parents and ("pup" in d.parents or "dog" in d.parents)]
    rows = selectors.medicines_by_uid({d.input.medicine for d in known}, door)
    facts = selectors.animal_facts([(*_animal(d), d.input.occurred_at) for d in known], door)
    shelf = [medicine_of(row) for row in selectors.cupboard(door)] if known else []
    for draft, found in zip(known, facts, strict=True):
        if found is None:
            continue
        if draft.before is not None:
            draft.columns["warnings"] = []
        row = rows[draft.input.medicine]
        _settle(draft, row, found)
        if draft.refusal is None:
            # A vaccination has no amount to work out; with the vet's name beside it nothing is left to be said.
            is_said = row["purpose"] == Purpose.VACCINATION and draft.columns.get("prescriber")
            _advise(draft, medicine_of(row), found, shelf, door, {"vet_only"} if is_said else set())
    warn_absent(drafts, door)
    _link_doubles([d for d in known if d.refusal is None and d.before is None], door)


def _animal(draft: Draft) -> tuple[str, UUID]:
    return ("pup", draft.input.pup) if draft.input.pup is not None else ("dog", draft.input.dog)


def _settle(draft: Draft, row: dict[str, Any], facts: AnimalFacts) -> None:
    """What follows from what was typed: dose from amount or the other way round, the weight on record."""
    medicine = medicine_of(row)
    given, columns = draft.input, draft.columns
    if given.amount_unit and given.amount_unit not in PARTS[medicine.form]:
        text = f"{medicine.name} ({medicine.form.value}) is not measured out in {given.amount_unit}."
        draft.refuse(invalid("amount_unit", "unit", text))
        return
    amount, dose_mg = given.amount, given.dose_mg
    if draft.before is not None and "amount" in draft.sent and "dose_mg" not in draft.sent:
        dose_mg = None
    elif draft.before is not None and "dose_mg" in draft.sent and "amount" not in draft.sent:
        amount = None
    strength = medicine.strength_per_dose_unit
    part = None if medicine.strength is None else medicine.strength.per
    if strength is not None and dose_mg is None and amount is not None and given.amount_unit == part:
        dose_mg = _decimal(float(amount) * strength)
    elif strength is not None and amount is None and dose_mg is not None:
        amount, columns["amount_unit"] = _decimal(float(dose_mg) / strength), part
    columns |= {"dose_mg": dose_mg, "amount": amount}
    if given.weight_g is None and facts.weight_g is not None:
        columns |= {"weight_g": Decimal(str(facts.weight_g)), "weighed_at": facts.weighed_at}
    elif given.weight_g is not None and given.weighed_at is None:
        columns["weighed_at"] = (
            facts.weighed_at
            if facts.weight_g is not None and abs(float(given.weight_g) - facts.weight_g) < 0.01
            else given.occurred_at
        )
    if not given.prescriber:
        columns["prescriber"] = medicine.prescriber


def _decimal(value: float) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal("0.0001"))


def _advise(
    draft: Draft,
    medicine: Medicine,
    facts: AnimalFacts,
    shelf: Sequence[Medicine],
    door: Door,
    unsaid: set[str],
) -> None:
    """The advice of the dose as it would have been said before, and what the dose that was given asks for."""
    at: datetime = draft.input.occurred_at
    weighed_at = draft.columns.get("weighed_at")
    weight_g = draft.input.weight_g
    is_fresh = weight_g is not None and weighed_at == at
    patient = patient_of(facts, at, door.kennel.zone, float(weight_g) if is_fresh else None)
    past = past_of(facts, draft.uid)
    found = dose(
        medicine,
        patient,
        at=at,
        past=past,
        cupboard=shelf,
        expires_on=draft.input.expires_on,
        today=local_day(at, door.kennel.zone),
    )
    for one in found.advice:
        if one.level is not Level.INFO and one.code not in _ONLY_BEFORE | unsaid:
            draft.warn(one.code, one.text)
    if found.outcome is Outcome.WEIGH_FIRST:
        draft.warn(
            "no_weight", f"{facts.called} has no weight on record: nothing says how much this was for."
        )
    if draft.input.expires_on is not None and found.outcome is not Outcome.WORKED_OUT:
        _warn_expired(draft, door)
    _look_again(draft, medicine, found, past)
    if draft.input.outcome != "given":
        words = "spat out" if draft.input.outcome == "spat_out" else "vomited"
        draft.warn("not_kept", f"Recorded as {words}: the vet decides whether to give it again.")


def _warn_expired(draft: Draft, door: Door) -> None:
    if draft.input.expires_on < local_day(draft.input.occurred_at, door.kennel.zone):
        draft.warn("expired", f"This lot expired on {draft.input.expires_on}.")


def _look_again(draft: Draft, medicine: Medicine, found: Dose, past: Sequence[Any]) -> None:
    """Far from the label's dose, or more than twice the last one: tenfold slips show here."""
    dose_mg = draft.columns["dose_mg"]
    if dose_mg is None:
        return
    given_mg = float(dose_mg)
    if found.dose_mg is not None:
        times = given_mg / found.dose_mg
        if times > FAR_FROM_LABEL or times < 1 / FAR_FROM_LABEL:
            text = (
                f"{plain(given_mg)} mg is {plain(times, 2)} times what the label works out to "
                f"({plain(found.dose_mg)} mg): check weight, unit and strength."
            )
            draft.warn("far_from_label", text)
    own = [one for one in past if one.active.casefold() == medicine.active.casefold() and one.dose_mg]
    if not own:
        return
    last_mg = max(own, key=lambda one: one.given_at).dose_mg
    if given_mg > DEFAULT_LIMITS.second_look_factor * last_mg:
        text = (
            f"{plain(given_mg)} mg is {plain(given_mg / last_mg, 2)} times the last dose ({plain(last_mg)} mg): "
            "check weight, unit and strength."
        )
        draft.warn("second_look", text)


def _link_doubles(drafts: Sequence[Draft], door: Door) -> None:
    """The same medicine for the same animal within an hour is most likely one dose, told twice."""
    if not drafts:
        return
    asked = [
        {
            "place": place,
            "pup_id": draft.columns["pup_id"],
            "dog_id": draft.columns["dog_id"],
            "medicine_id": draft.columns["medicine_id"],
            "occurred_at": draft.input.occurred_at,
        }
        for place, draft in enumerate(drafts)
    ]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT a.place, near.uid, near.name FROM json_to_recordset(%s)
                AS a (place int, pup_id bigint, dog_id bigint, medicine_id bigint, occurred_at timestamptz)
            CROSS JOIN LATERAL (
                SELECT t.uid, c.name FROM health_treatment t LEFT JOIN people_carer c ON c.id = t.recorded_by_id
                WHERE t.kennel_id = %s AND t.deleted_at IS NULL AND t.medicine_id = a.medicine_id
                  AND (t.pup_id = a.pup_id OR t.dog_id = a.dog_id)
                  AND t.occurred_at BETWEEN a.occurred_at - make_interval(mins => %s)
                                        AND a.occurred_at + make_interval(mins => %s)
                ORDER BY t.occurred_at, t.id LIMIT 1
            ) near
            """,
            [store.dump(asked), door.kennel.id, NEAR_MINUTES, NEAR_MINUTES],
        )
        for place, uid, name in cursor.fetchall():
            drafts[place].columns["possible_duplicate_of"] = uid
            by = f" by {name}" if name else ""
            text = f"The same medicine was entered{by} within {NEAR_MINUTES} minutes; both are kept, ask each other."
            drafts[place].warn("possible_double", text)
