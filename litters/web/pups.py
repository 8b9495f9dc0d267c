"""Pages about pups."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.records import door, service
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.form_fields import text_of
from kennel.web.forms import Entry, RecordForm, save_changes, save_new
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.choices import Fate
from litters.registrations import LITTER, PUP, WEIGHING
from litters.selectors_litters import pup_head
from litters.services.assessments import FIRST_STANDARD_AGE
from litters.services.growth_positions import POSITION_CAUTION, GrowthPositions, growth_positions
from litters.web import entries, links, reads
from litters.web.entries import pup_label
from litters.web.weighing_lines import weighing_lines


class PupPage(KennelPage):
    """One pup: newest weight and its age, all weights with their corrections."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The pup."""
        identifier = uid_or_404(uid)
        before = request.GET.get("before", "")
        with door.read(self.here, self.actor, self.at):
            pup = reads.row(PUP, self.here.id, identifier)
            litter = reads.row(LITTER, self.here.id, UUID(pup["litter"]))
            weighings, older = weighing_lines(self.here, "pup", identifier, before)
            position = self._position(pup)
        values = {
            "pup": pup,
            "links": links.of(links.PUP, identifier, self.here, self.actor),
            "label": pup_label(pup),
            "litter": litter,
            "weighings": weighings,
            "newest": weighings[0] if weighings and not before else None,
            "older": older,
            "position": position,
            "position_caution": POSITION_CAUTION,
        }
        return self.page("litters/pup.html", values)

    def _position(self, pup: reads.Row) -> GrowthPositions | None:
        """Where it stands in growth tables; None for a pup too young for any, or that lives no more."""
        is_old_enough = self.at - datetime.fromisoformat(pup["born_at"]) >= FIRST_STANDARD_AGE
        if pup["deleted"] or pup["fate"] != Fate.LIVING or not is_old_enough:
            return None
        head = pup_head(UUID(pup["uid"]), self.here.id)
        return None if head is None else growth_positions(head, self.here.id, self.at)


class NewPupPage(NewRecordPage):
    """Adding a pup, with its birth weight when it was weighed at once."""

    template = "litters/pup_new.html"

    def form(self) -> RecordForm:
        """A pup's fields; the next place in the litter is filled in."""
        identifier = uid_or_404(self.kwargs["uid"])
        with door.read(self.here, self.actor, self.at):
            self.litter = reads.row(LITTER, self.here.id, identifier)
            pups = reads.pups_of(self.here.id, [self.litter["uid"]])[self.litter["uid"]]
        is_newborn = not self.litter["whelped_at"] or len(pups) == 0
        initial = {
            "litter": self.litter["uid"],
            "birth_order": max([pup["birth_order"] or 0 for pup in pups], default=0) + 1,
            "born_at": self._born_at(is_newborn),
        }
        self.weight = RecordForm(
            "weighing",
            [Entry("entered_value", "Birth weight", is_large=True), Entry("entered_unit", "Unit")],
            self.here.zone,
            initial={"entered_unit": self.carer.mass_unit},
        )
        return RecordForm("pup", entries.pup_entries(), self.here.zone, initial=initial)

    def _born_at(self, is_newborn: bool) -> datetime | str:
        """Now while the litter is being born, else the day the others came."""
        if is_newborn or (self.at - datetime.fromisoformat(self.litter["whelped_at"])).days < 1:
            return self.at
        return str(self.litter["whelped_at"])

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store the pup and its birth weight; a bad weight stops both."""
        form = self.form()
        data = form.read(request.POST) | {"litter": self.litter["uid"]}
        weighing = self.weight.read({**request.POST.dict(), "uid": request.POST.get("weighing_uid", "")})
        weighed = weighing.get("entered_value") is not None
        if weighed:
            weighing |= {"pup": form.uid, "is_birth_weight": True}
            weighing["occurred_at"] = data.get("born_at", "")
            self._look_at_weight(weighing)
        if self.weight.has_errors or save_new(self, form, data) is None:
            return self.show(form, 422)
        if weighed and save_new(self, self.weight, weighing) is None:
            messages.warning(request, "The pup is saved, its birth weight is not. Please weigh it once more.")
        messages.success(request, "Saved.")
        again = "web:pup-new" if "another" in request.POST else "web:litter"
        return redirect(again, self.here.uid, self.litter["uid"])

    def _look_at_weight(self, weighing: dict[str, Any]) -> None:
        try:
            service.check(WEIGHING.input, weighing)
        except Refusal as refusal:
            refusal.errors = [error for error in refusal.errors if error.pointer != "#/occurred_at"]
            if refusal.errors:
                self.weight.refuse(refusal)

    def title(self) -> str:
        """Title."""
        return f"Add a pup to {self.litter['name']}"

    def more(self) -> dict[str, Any]:
        """The birth weight's own small form."""
        return {"weight": self.weight, "litter": self.litter}

    def cancel_url(self) -> str:
        """Back to the litter."""
        return reverse("web:litter", args=[self.here.uid, self.litter["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """Back to the litter."""
        return self.cancel_url()


class ChangePupPage(ChangeRecordPage):
    """Changing what is known of a pup."""

    def form(self) -> RecordForm:
        """The pup's fields, filled in."""
        with door.read(self.here, self.actor, self.at):
            self.pup = reads.row(PUP, self.here.id, self.uid)
        return RecordForm("pup", entries.pup_change_entries(), self.here.zone, row=self.pup)

    def title(self) -> str:
        """Title."""
        return f"Change {pup_label(self.pup)}"

    def cancel_url(self) -> str:
        """Back to the pup."""
        return reverse("web:pup", args=[self.here.uid, self.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the pup."""
        return self.cancel_url()


class PupDeathPage(ChangeRecordPage):
    """Entering that a pup has died.  Asked twice: by the page, and by a tick."""

    template = "litters/pup_death.html"
    submit = "Enter it"

    def form(self) -> RecordForm:
        """When it happened."""
        with door.read(self.here, self.actor, self.at):
            self.pup = reads.row(PUP, self.here.id, self.uid)
        fields = [Entry("died_at", "When"), Entry("note", "Note", "What was seen before; what the vet said.")]
        form = RecordForm("pup", fields, self.here.zone, row=self.pup)
        if not form.fields[0].value:
            form.fields[0].value = text_of(self.at, "instant", self.here.zone)
        return form

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store it when both questions were answered."""
        form = self.form()
        patch = form.read_changes(request.POST)
        if request.POST.get("sure") != "yes":
            form.errors.append("Please tick that the pup has died.")
            return self.show(form, 422)
        if not save_changes(self, form, patch | {"fate": Fate.DIED.value}):
            return self.show(form, 422)
        messages.success(request, "Entered. It can be corrected on the pup's page.")
        return redirect(self.cancel_url())

    def title(self) -> str:
        """Title."""
        return f"Has {pup_label(self.pup)} died?"

    def more(self) -> dict[str, Any]:
        """The pup's name in the question."""
        return {"label": pup_label(self.pup), "pup": self.pup}

    def cancel_url(self) -> str:
        """Back to the pup."""
        return reverse("web:pup", args=[self.here.uid, self.uid])


class PupLivesPage(ChangeRecordPage):
    """Taking back a death that was entered by mistake."""

    def form(self) -> RecordForm:
        """Only the reason."""
        with door.read(self.here, self.actor, self.at):
            self.pup = reads.row(PUP, self.here.id, self.uid)
        return RecordForm("pup", [], self.here.zone, row=self.pup, asks_reason=True)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """The pup lives again; what was entered stays in its history."""
        form = self.form()
        patch = form.read_changes(request.POST)
        if not request.POST.get("reason", "").strip():
            form.fields[0].errors.append("Please say why: it stands beside the correction.")
            return self.show(form, 422)
        if not save_changes(self, form, patch | {"fate": Fate.LIVING.value, "died_at": None}):
            return self.show(form, 422)
        messages.success(request, "Corrected.")
        return redirect(self.cancel_url())

    def title(self) -> str:
        """Title."""
        return f"{pup_label(self.pup)}: entered by mistake"

    def cancel_url(self) -> str:
        """Back to the pup."""
        return reverse("web:pup", args=[self.here.uid, self.uid])
