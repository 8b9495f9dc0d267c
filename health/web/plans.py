"""Pages about treatment plans: which scheme a litter or dog follows, and each animal's own dates."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse

from health import plan_dates
from health.domain.vaccination import RULES
from health.domain.worming_schemes import SCHEMES, Subject
from health.plan_data import SCHEME_KEYS
from health.registrations import TREATMENT_PLAN
from health.web import reads
from kennel.clock.wall_clock import local_day
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.web import reads as litter_reads

CAUTION = (
    "Bodies differ, and the label in your hand and the vet's instruction outrank every scheme. Whether a vaccine "
    "is due is the vet's word."
)


def scheme_words(key: str) -> str:
    """A scheme by its rules and who published it."""
    if key in RULES:
        return f"Vaccination: {RULES[key].name}"
    return f"{SCHEMES[key].body}: {SCHEMES[key].name}"


def scheme_choices(*, is_litter: bool) -> list[tuple[str, str]]:
    """Schemes for a litter (its pups or its dam) or for a dog, and the vaccinations."""
    return [
        (key, scheme_words(key))
        for key in SCHEME_KEYS
        if key in RULES or (SCHEMES[key].subject is not Subject.KENNEL) == is_litter
    ]


class PlansPage(KennelPage):
    """The plans that run."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Plans, and the litters and dogs one can be made for."""
        with door.read(self.here, self.actor, self.at):
            plans = reads.plans(self.here.id)
            names = reads.names(self.here.id, plans)
            litters = litter_reads.litters(self.here.id)
            dogs = [dog for dog in litter_reads.dogs(self.here.id) if dog["lives_here"]]
        for one in plans:
            one["subject"] = names.get(reads.animal_of(one), "")
            one["scheme_words"] = scheme_words(one["scheme"])
        return self.page("health/plans.html", {"plans": plans, "litters": litters, "dogs": dogs})


class PlanPage(KennelPage):
    """One plan: what is due when, for each animal on its own dates."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The dates."""
        plan = uid_or_404(uid)
        today = local_day(self.at, self.here.zone)
        with door.read(self.here, self.actor, self.at) as opened:
            here = plan_dates.plans_here([plan], opened).get(plan)
        if here is None:
            raise Http404
        animals = plan_dates.dates_of(here, today, self.here.zone)
        values = {
            "plan": here.row,
            "title": scheme_words(here.row["scheme"]),
            "animals": [{"dates": one, "next_on": plan_dates.due_on(one)} for one in animals],
            "caution": CAUTION,
        }
        return self.page("health/plan.html", values)


class NewPlanPage(NewRecordPage):
    """A plan for a litter or a dog, chosen from the published schemes."""

    caution = CAUTION

    def form(self) -> RecordForm:
        """Scheme, medicine, time of day."""
        kind = self.kwargs["kind"]
        uid = str(uid_or_404(self.kwargs["uid"]))
        with door.read(self.here, self.actor, self.at):
            self.subject = reads.names(self.here.id, [{kind: uid}]).get(uid)
            medicines = [one for one in reads.medicines(self.here.id) if one["in_use"]]
        if self.subject is None:
            raise Http404
        fields = [
            Entry(kind, "For", choices=[(uid, self.subject)], is_hidden=True),
            Entry("scheme", "Scheme", choices=scheme_choices(is_litter=kind == "litter")),
            Entry("medicine", "Medicine", choices=[(one["uid"], one["name"]) for one in medicines]),
            Entry("wall_time", "At this time of day"),
            Entry("weigh_first_minutes", "Weigh so long before", "0 for never.", unit="minutes"),
            Entry("starts_on", "From this day", "For schemes that count from their own start.", is_more=True),
            Entry("note", "Note", is_more=True),
        ]
        return RecordForm("treatment-plan", fields, self.here.zone, initial={kind: uid})

    def title(self) -> str:
        """Title."""
        return f"A treatment plan for {self.subject}"

    def cancel_url(self) -> str:
        """Back to the plans."""
        return reverse("web:treatment-plans", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the plan's dates."""
        return reverse("web:treatment-plan", args=[self.here.uid, uid])


class ChangePlanPage(ChangeRecordPage):
    """Changing or ending a plan."""

    def form(self) -> RecordForm:
        """What may change; ages and gaps are changed through the API."""
        with door.read(self.here, self.actor, self.at):
            self.plan: dict[str, Any] = reads.row(TREATMENT_PLAN, self.here.id, self.uid)
            medicines = [one for one in reads.medicines(self.here.id) if one["in_use"]]
        fields = [
            Entry("scheme", "Scheme", choices=scheme_choices(is_litter=self.plan["litter"] is not None)),
            Entry("medicine", "Medicine", choices=[(one["uid"], one["name"]) for one in medicines]),
            Entry("wall_time", "At this time of day"),
            Entry("weigh_first_minutes", "Weigh so long before", "0 for never.", unit="minutes"),
            Entry("ended_on", "Ended on"),
            Entry("note", "Note", is_more=True),
        ]
        return RecordForm("treatment-plan", fields, self.here.zone, row=self.plan)

    def title(self) -> str:
        """Title."""
        return "Change a treatment plan"

    def cancel_url(self) -> str:
        """Back to the plan."""
        return reverse("web:treatment-plan", args=[self.here.uid, self.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the plan."""
        return self.cancel_url()
