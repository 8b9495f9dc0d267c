"""Doses, plan dates, published labels and schemes to choose from, and one entry for many animals."""

from typing import Annotated, Any
from uuid import UUID

from django.http import HttpResponse
from pydantic import BaseModel, ConfigDict, Field

from health import plan_dates, selectors
from health.choices import AmountUnit, TreatmentOutcome
from health.domain.published_labels import PUBLISHED_LABELS
from health.domain.vaccination import CAUTION, RULES
from health.domain.worming_schemes import SCHEMES
from health.doses import DoseAsked, dose_json, doses_at
from health.inputs import TreatmentInput
from health.medicine_data import body_of
from health.plan_data import default_phases, default_series
from health.registrations import TREATMENT
from kennel.api.base import KennelView
from kennel.api.batch import result_of
from kennel.api.preconditions import parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.clock.wall_clock import local_day
from kennel.records import door, service, store
from kennel.records.door import Door
from kennel.records.fields import Day, Instant, Line, Note, Uid, number
from kennel.records.refusals import Refusal, invalid
from litters.registrations import DOG, PUP
from litters.selectors_litters import litter_heads

_OPEN: dict[str, Any] = {"type": "object"}
_DOSES: dict[str, Any] = {
    "type": "object",
    "required": ["doses"],
    "properties": {"doses": {"type": "array", "items": _OPEN}},
}
MOST_AT_ONCE = 60


class DoseQuery(BaseModel, extra="forbid"):
    """`medicine`: uid of the product; `at`: when it would be given (default now); `expires_on` of the lot in hand."""

    medicine: Uid
    at: Instant | None = None
    expires_on: Day | None = None


def _medicine(uid: UUID, opened: Door) -> dict[str, Any]:
    found = selectors.medicines_by_uid([uid], opened).get(uid)
    if found is None:
        raise invalid("medicine", "unknown", "This medicine is not here.")
    return found


class _AnimalDose(KennelView):
    """The dose for one animal."""

    kind = PUP
    query_input = DoseQuery
    slugs = ("validation",)
    answer_schema = _OPEN

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Amount, weight and its age, the band explained, advice; no number for what only a vet may dose."""
        query = self.query(DoseQuery)
        animal = parse_uid(uid)
        with door.read(self.here, self.actor, self.at) as opened:
            if animal not in store.known_uids(self.kind, [animal], self.here.id):
                raise Refusal("not-found")
            medicine = _medicine(query.medicine, opened)
            at = query.at or self.at
            asked = DoseAsked(self.kind.name, animal, medicine, at, expires_on=query.expires_on)
            found = doses_at([asked], opened)[0]
        if found is None:
            raise Refusal("not-found")
        return json_response(dumps(dose_json(found)))


class PupDose(_AnimalDose):
    """A medicine's dose for one pup by the product's own label, with what to mind beside it."""

    summary_of = {"get": "The dose of a medicine for a pup"}


class DogDose(_AnimalDose):
    """A medicine's dose for one dog by the product's own label, with what to mind beside it."""

    kind = DOG
    summary_of = {"get": "The dose of a medicine for a dog"}


class LitterDoses(KennelView):
    """A medicine's dose for every pup of a litter that is here."""

    query_input = DoseQuery
    slugs = ("validation",)
    summary_of = {"get": "The doses of a medicine for a litter's pups"}
    answer_schema = _DOSES

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """One dose for each pup, in the order of birth."""
        query = self.query(DoseQuery)
        litter = parse_uid(uid)
        with door.read(self.here, self.actor, self.at) as opened:
            if litter not in litter_heads([litter], self.here.id):
                raise Refusal("not-found")
            medicine = _medicine(query.medicine, opened)
            at = query.at or self.at
            asked = [
                DoseAsked("pup", pup, medicine, at, expires_on=query.expires_on)
                for _, pup in selectors.pups_here([litter], min(at, self.at), opened)
            ]
            found = [dose_json(one) for one in doses_at(asked, opened) if one is not None]
        shown = {"litter": litter, "medicine": medicine["uid"], "medicine_name": medicine["name"], "at": at}
        return json_response(dumps({**shown, "doses": found}))


class PlanDates(KennelView):
    """The dates of a treatment plan, for each animal its own."""

    summary_of = {"get": "The dates of a treatment plan"}
    answer_schema = {
        "type": "object",
        "required": ["animals"],
        "properties": {"animals": {"type": "array", "items": _OPEN}},
    }

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """What is due when, what was given, what was passed over."""
        plan = parse_uid(uid)
        today = local_day(self.at, self.here.zone)
        with door.read(self.here, self.actor, self.at) as opened:
            here = plan_dates.plans_here([plan], opened).get(plan)
        if here is None:
            raise Refusal("not-found")
        animals = [_dates_json(one) for one in plan_dates.dates_of(here, today, self.here.zone)]
        scheme = here.row["scheme"]
        source = RULES[scheme] if scheme in RULES else SCHEMES[scheme]
        return json_response(
            dumps(
                {
                    "plan": plan,
                    "scheme": scheme,
                    "today": today,
                    "animals": animals,
                    "source": source.source,
                    "status": source.status,
                    "caution": _caution(scheme),
                }
            )
        )


def _caution(scheme: str) -> str:
    return CAUTION if scheme in RULES else SCHEMES[scheme].caution


def _dates_json(one: plan_dates.AnimalDates) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "animal_type": one.type,
        "animal": one.uid,
        "name": one.called,
        "given_on": one.given_on,
        "next_due_on": plan_dates.due_on(one),
        "reason": one.reason,
    }
    if one.worming is not None:
        shown["dates"] = [
            {
                "due_on": date_.due_on,
                "state": date_.state.value,
                "gap_days": date_.gap_days,
                "given_on": date_.given_on,
                "provisional": date_.provisional,
            }
            for date_ in one.worming.dates
        ]
        shown["extra_doses_on"] = one.worming.extra_doses_on
    if one.series is not None:
        following = one.series.next_dose
        shown["series"] = {
            "complete": one.series.complete,
            "completed_on": one.series.completed_on,
            "reasons": one.series.reasons,
            "booster_on": one.series.booster_on,
            "restart": one.series.restart,
            "next_dose": None
            if following is None
            else {
                "not_before_on": following.not_before_on,
                "usual_until_on": following.usual_until_on,
                "latest_on": following.latest_on,
                "reason": following.reason,
            },
        }
    return shown


class MedicineLabels(KennelView):
    """Published label figures to copy a medicine from; correct them to the product in your hand."""

    summary_of = {"get": "Published labels to copy a medicine from"}
    answer_schema = {
        "type": "object",
        "required": ["labels"],
        "properties": {"labels": {"type": "array", "items": _OPEN}},
    }

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """Each with a body that `medicines` takes."""
        labels = [{"key": key, "medicine": body_of(one)} for key, one in PUBLISHED_LABELS.items()]
        return json_response(dumps({"labels": labels}))


class TreatmentSchemes(KennelView):
    """Published worming schemes and vaccination series to choose a treatment plan from."""

    summary_of = {"get": "Published schemes to choose a treatment plan from"}
    answer_schema = {
        "type": "object",
        "required": ["schemes"],
        "properties": {"schemes": {"type": "array", "items": _OPEN}},
    }

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """Each with its body, source, status and rules, which a plan may change."""
        worming = [
            {
                "key": key,
                "kind": "worming",
                "name": one.name,
                "body": one.body,
                "subject": one.subject.value,
                "phases": default_phases(key),
                "source": one.source,
                "status": one.status,
                "note": one.note,
            }
            for key, one in SCHEMES.items()
        ]
        series = [
            {
                "key": key,
                "kind": "vaccination",
                "name": rule.name,
                "series": default_series(key),
                "source": rule.source,
                "status": rule.status,
            }
            for key, rule in RULES.items()
        ]
        return json_response(dumps({"schemes": [*worming, *series]}))


class OneOfMany(BaseModel):
    """One animal's dose in an entry for many; what it does not say is said for all."""

    model_config = ConfigDict(extra="forbid")

    uid: Uid
    pup: Uid | None = None
    dog: Uid | None = None
    dose_mg: number("0.0001", 1_000_000, places=4) | None = None  # type: ignore[valid-type]  # number() makes the type
    amount: number("0.0001", 100_000, places=4) | None = None  # type: ignore[valid-type]
    amount_unit: AmountUnit | None = None
    weight_g: number("0.1", 120_000) | None = None  # type: ignore[valid-type]
    weighed_at: Instant | None = None
    outcome: TreatmentOutcome | None = None
    note: Note | None = None


class ForMany(BaseModel):
    """A medicine given to many animals: lot and expiry once, each animal with the uid of its own treatment."""

    model_config = ConfigDict(extra="forbid")

    medicine: Uid
    plan: Uid | None = None
    occurred_at: Instant
    lot: Annotated[Line, Field(max_length=80)] = ""
    expires_on: Day | None = None
    prescriber: Line = ""
    outcome: TreatmentOutcome = TreatmentOutcome.GIVEN
    note: Note = ""
    animals: Annotated[list[OneOfMany], Field(min_length=1, max_length=MOST_AT_ONCE)]


class TreatmentsForMany(KennelView):
    """One entry for many animals; sending it twice is harmless, by the uids of the treatments."""

    body_input = ForMany
    summary_of = {"post": "Record a medicine given to many animals"}
    slugs = ("validation",)
    answer_schema = {
        "type": "object",
        "required": ["results"],
        "properties": {"results": {"type": "array", "items": _OPEN}},
    }

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """One result for each animal, in the same order; one that is refused does not refuse the others."""
        many = service.check(ForMany, request.data)
        items, outcomes = [], {}
        for place, data in enumerate(bodies(many)):
            try:
                checked = service.check(TreatmentInput, data)
                items.append(service.NewRecord(place, many.animals[place].uid, checked))
            except Refusal as refusal:
                uid = many.animals[place].uid
                outcomes[place] = service.Outcome(place, uid, "rejected", None, refusal)
        with door.write(self.here, self.actor, self.at) as opened:
            outcomes |= {one.index: one for one in service.create(TREATMENT, items, opened)}
        results = [result_of(outcomes[place], self.actor.request_id) for place in range(len(many.animals))]
        return json_response(dumps({"results": results}))


def bodies(many: ForMany) -> list[dict[str, Any]]:
    """The treatment of each animal, as the API takes it: what all share, then what is its own."""
    common = many.model_dump(mode="json", exclude={"animals"}, exclude_unset=True)
    return [
        common | {name: value for name, value in own.items() if value is not None}
        for own in (one.model_dump(mode="json", exclude={"uid"}, exclude_unset=True) for one in many.animals)
    ]
