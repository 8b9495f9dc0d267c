"""Recording treatments: one animal, or the worming day of a whole litter on one screen."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from health import selectors
from health.domain.advice import Level
from health.domain.dosing import CAUTION
from health.doses import DoseAsked, DoseHere, doses_at
from health.registrations import TREATMENT
from health.web import entries, reads
from kennel.people.choices import Role
from kennel.records import door, service
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import NewRecordPage
from litters.registrations import LITTER
from litters.web import reads as litter_reads


class TreatmentsPage(KennelPage):
    """What was given, and where to record more."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The newest first; litters for a worming day."""
        with door.read(self.here, self.actor, self.at):
            rows = reads.treatments(self.here.id)
            names = reads.names(self.here.id, rows)
            medicines = {one["uid"]: one["name"] for one in reads.medicines(self.here.id)}
            litters = [one for one in litter_reads.litters(self.here.id) if one["whelped_at"]]
        for one in rows:
            one["animal"] = names.get(reads.animal_of(one), "")
            one["medicine_name"] = medicines.get(one["medicine"], "")
        return self.page("health/treatments.html", {"treatments": rows, "litters": litters})


class NewTreatmentPage(NewRecordPage):
    """A dose of one animal, also without network."""

    keep_offline = True
    template = "health/treatment_new.html"
    caution = CAUTION
    submit = "Save what was given"

    def _animal(self) -> tuple[str, UUID]:
        return self.kwargs["kind"], uid_or_404(self.kwargs["uid"])

    def form(self) -> RecordForm:
        """Medicine, amount, lot and expiry."""
        kind, uid = self._animal()
        with door.read(self.here, self.actor, self.at) as opened:
            found = selectors.animal_facts([(kind, uid, self.at)], opened)[0]
            medicines = reads.medicines(self.here.id)
        if found is None:
            raise Http404
        self.animal = found
        fixed = Entry(kind, "For", choices=[(str(uid), found.called)], is_hidden=True)
        fields = [fixed, *entries.treatment_entries(medicines)]
        return RecordForm(
            "treatment", fields, self.here.zone, initial={kind: str(uid), "occurred_at": self.at}
        )

    def title(self) -> str:
        """Title."""
        return f"Treat {self.animal.called}"

    def more(self) -> dict[str, Any]:
        """The form is kept on the device first."""
        return {
            "offline_type": "treatment",
            "offline_label": f"Treatment of {self.animal.called}",
            "animal": self.animal,
        }

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:treatments", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the list, where the advice stands beside it."""
        return self.cancel_url()


class WormingDayPage(KennelPage):
    """One screen for a litter: every pup, its dose, the cautions beside the button, lot and expiry once."""

    keep_offline = True
    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The doses of the medicine asked for by `?medicine=`."""
        self._read(uid_or_404(uid), request.GET.get("medicine", ""))
        return self._show()

    def _read(self, uid: UUID, medicine: str) -> None:
        with door.read(self.here, self.actor, self.at) as opened:
            self.litter = reads.row(LITTER, self.here.id, uid)
            self.medicines = [one for one in reads.medicines(self.here.id) if one["in_use"]]
            chosen = next((one for one in self.medicines if one["uid"] == medicine), None)
            self.doses: list[DoseHere] = []
            self.medicine = None
            if chosen is not None:
                self.medicine = selectors.medicines_by_uid([UUID(chosen["uid"])], opened)[UUID(chosen["uid"])]
                pups = selectors.pups_here([uid], self.at, opened)
                asked = [DoseAsked("pup", pup, self.medicine, self.at) for _, pup in pups]
                self.doses = [one for one in doses_at(asked, opened) if one is not None]

    def _show(self, errors: list[str] | None = None, status: int = 200) -> HttpResponse:
        lines = [
            {
                "pup": one.facts.uid,
                "called": one.facts.called,
                "uid": new_uid(),
                "dose": one.found,
                "amount": None if one.found.amount is None else f"{one.found.amount:.2f}",
                "weight_g": one.facts.weight_g,
                "weighed_at": one.facts.weighed_at,
                "cautions": [advice for advice in one.found.advice if advice.level is not Level.INFO],
                "is_offered": one.found.amount is not None or one.found.dose_mg is not None,
            }
            for one in self.doses
        ]
        values = {
            "litter": self.litter,
            "medicines": self.medicines,
            "medicine": self.medicine,
            "lines": lines,
            "caution": CAUTION,
            "errors": errors or [],
            "typed": self.request.POST,
        }
        return self.page("health/worming_day.html", values, status)

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Record what was ticked; each pup's entry carries its own uid, so pressing twice records it once."""
        self._read(uid_or_404(uid), request.POST.get("medicine", ""))
        items, errors = [], []
        for place, one in enumerate(self.doses):
            key = str(one.facts.uid)
            if request.POST.get(f"give:{key}") != "yes":
                continue
            try:
                checked = service.check(TREATMENT.input, self._data(one, key))
                items.append(
                    service.NewRecord(place, uid_or_404(request.POST.get(f"uid:{key}", "")), checked)
                )
            except Refusal as refusal:
                errors += [f"{one.facts.called}: {error.detail}" for error in refusal.errors]
        if not items and not errors:
            errors.append("Nobody is ticked.")
        if errors:
            return self._show(errors, 422)
        with door.write(self.here, self.actor, self.at) as opened:
            outcomes = service.create(TREATMENT, items, opened)
        errors = [
            f"{self.doses[one.index].facts.called}: {one.refusal.detail or 'not accepted'}"
            for one in outcomes
            if one.refusal is not None
        ]
        if errors:
            return self._show(errors, 422)
        messages.success(request, f"Saved for {len(items)}.")
        return redirect("web:treatments", self.here.uid)

    def _data(self, one: DoseHere, key: str) -> dict[str, Any]:
        post = self.request.POST
        data: dict[str, Any] = {
            "pup": key,
            "medicine": post.get("medicine", ""),
            "occurred_at": self.at.isoformat(),
            "lot": post.get("lot", ""),
            "outcome": post.get(f"outcome:{key}", "given") or "given",
        }
        if post.get("expires_on"):
            data["expires_on"] = post["expires_on"]
        amount = post.get(f"amount:{key}", "").strip().replace(",", ".")
        if amount and one.found.amount_unit:
            data |= {"amount": amount, "amount_unit": one.found.amount_unit}
        return data
