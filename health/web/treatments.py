"""Recording treatments: one animal, or the worming day of a whole litter on one screen."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse

from health import selectors
from health.domain.dosing import CAUTION
from health.web import entries, reads
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import NewRecordPage
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
