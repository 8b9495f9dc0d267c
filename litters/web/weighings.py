"""Correcting, moving, removing and restoring a weighing.  Every earlier value stays on record."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.people.choices import Role
from kennel.records import door
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm, remove, version_of
from kennel.web.record_pages import ChangeRecordPage
from litters.registrations import DOG, PUP, WEIGHING
from litters.web import entries, reads


def _animal_url(page: KennelPage, weighing: reads.Row) -> str:
    name = "pup" if weighing["pup"] else "dog"
    return reverse(f"web:{name}", args=[page.here.uid, weighing[name]])


class CorrectWeighingPage(ChangeRecordPage):
    """Correcting a weighing: value, time, or the pup it belongs to (swapped bands)."""

    template = "litters/weighing_correct.html"
    submit = "Save the correction"

    def form(self) -> RecordForm:
        """What was typed, and why it is corrected."""
        with door.read(self.here, self.actor, self.at):
            self.weighing = reads.row(WEIGHING, self.here.id, self.uid)
            self.corrections = reads.corrections(self.here.id, [str(self.uid)]).get(str(self.uid), [])
            fields = entries.weighing_entries(*self._animals())
        return RecordForm("weighing", fields, self.here.zone, row=self.weighing, asks_reason=True)

    def _animals(self) -> tuple[str, entries.Choices]:
        if self.weighing["dog"]:
            dogs = reads.dogs(self.here.id)
            return "dog", [(dog["uid"], dog["name"]) for dog in dogs]
        pup = reads.row(PUP, self.here.id, UUID(self.weighing["pup"]))
        littermates = reads.pups_of(self.here.id, [pup["litter"]])[pup["litter"]]
        return "pup", [(mate["uid"], entries.pup_label(mate)) for mate in littermates]

    def title(self) -> str:
        """Title."""
        return "Correct a weight"

    def more(self) -> dict[str, Any]:
        """What was corrected before, and whether it may be removed."""
        return {"weighing": self.weighing, "corrections": self.corrections}

    def cancel_url(self) -> str:
        """Back to the animal."""
        return _animal_url(self, self.weighing)

    def saved_url(self, uid: UUID) -> str:
        """To the animal it belongs to now."""
        with door.read(self.here, self.actor, self.at):
            return _animal_url(self, reads.row(WEIGHING, self.here.id, uid))


class RemoveWeighingPage(KennelPage):
    """Removing a weighing that was entered by mistake; it can be brought back for 30 days."""

    least_role = Role.CARER

    def _weighing(self, uid: str) -> reads.Row:
        with door.read(self.here, self.actor, self.at):
            weighing = reads.row(WEIGHING, self.here.id, uid_or_404(uid))
            kind, record_type = ("pup", PUP) if weighing["pup"] else ("dog", DOG)
            animal = reads.row(record_type, self.here.id, UUID(weighing[kind]))
        weighing["animal"] = entries.pup_label(animal) if weighing["pup"] else animal["name"]
        return weighing

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The question, with what would be removed."""
        weighing = self._weighing(uid)
        return self.page(
            "litters/weighing_remove.html", {"weighing": weighing, "cancel_url": _animal_url(self, weighing)}
        )

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Remove it, or bring it back."""
        weighing = self._weighing(uid)
        reason = request.POST.get("reason", "").strip()[:500]
        refusal = remove(
            self,
            "weighing",
            uid_or_404(uid),
            version_of(request.POST),
            reason,
            restore="restore" in request.POST,
        )
        if refusal:
            return self._refused(weighing, refusal)
        if "restore" in request.POST:
            messages.success(request, "Brought back.")
            return redirect(_animal_url(self, weighing))
        messages.success(request, "Removed. It can be brought back for 30 days.")
        return redirect("web:weighing-remove", self.here.uid, uid)

    def _refused(self, weighing: reads.Row, refusal: Refusal) -> HttpResponse:
        values = {
            "weighing": weighing,
            "cancel_url": _animal_url(self, weighing),
            "error": "Somebody changed this meanwhile. Look at it as it is now."
            if refusal.slug == "version-mismatch"
            else refusal.detail,
        }
        return self.page("litters/weighing_remove.html", values, 409)
