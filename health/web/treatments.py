"""Recording treatments: one animal, or the worming day of a whole litter on one screen."""

from typing import Any

from django.http import HttpRequest, HttpResponse

from health.domain.dosing import CAUTION
from health.web import entries, reads
from health.web.animal_form import AnimalFormPage
from kennel.records import door
from kennel.web.base import KennelPage
from kennel.web.forms import Entry
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


class NewTreatmentPage(AnimalFormPage):
    """A dose of one animal, also without network."""

    record = "treatment"
    back_to = "web:treatments"
    template = "health/treatment_new.html"
    caution = CAUTION
    submit = "Save what was given"

    def fields(self) -> list[Entry]:
        """Medicine, amount, lot and expiry."""
        return entries.treatment_entries(reads.medicines(self.here.id))

    def title(self) -> str:
        """Title."""
        return f"Treat {self.animal.called}"

    def more(self) -> dict[str, Any]:
        """The entry is called what it is once it is written."""
        return super().more() | {"offline_label": f"Treatment of {self.animal.called}", "animal": self.animal}
