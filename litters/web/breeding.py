"""Entering what happens before a litter: seasons, blood tests, matings."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from kennel.clock.wall_clock import local_day
from kennel.records import door
from kennel.web.base import uid_or_404
from kennel.web.forms import RecordForm
from kennel.web.record_pages import NewRecordPage
from litters.domain.planned_mating import InbreedingLevel
from litters.models import Dog
from litters.registrations import DOG
from litters.services.figures import agreed_figures, inbreeding_lines
from litters.services.pedigrees import forecast_of, load_pedigree
from litters.services.place_rules import findings_before_mating
from litters.web import entries, reads


class DamEntryPage(NewRecordPage):
    """Base of the entry forms of one dam."""

    def read_dam(self) -> None:
        """The dam, and the males known here."""
        with door.read(self.here, self.actor, self.at):
            self.dam = reads.row(DOG, self.here.id, uid_or_404(self.kwargs["uid"]))
            self.dogs = reads.dogs(self.here.id)

    def dam_choice(self) -> entries.Choices:
        """The dam herself, for the form to carry."""
        return [(self.dam["uid"], self.dam["name"])]

    def cancel_url(self) -> str:
        """Back to the dam."""
        return reverse("web:dog", args=[self.here.uid, self.kwargs["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the dam."""
        return self.cancel_url()


class NewSeasonPage(DamEntryPage):
    """A season of a dam."""

    def form(self) -> RecordForm:
        """First day, and the days a vet read."""
        self.read_dam()
        initial = {"dam": self.dam["uid"]}
        return RecordForm(
            "season", entries.season_entries(self.dam_choice()), self.here.zone, initial=initial
        )

    def title(self) -> str:
        """Title."""
        return f"Season of {self.dam['name']}"


class NewProgesteronePage(DamEntryPage):
    """A blood test of a dam."""

    caution = "Analysers differ: the vet says what a value means for the day of mating."

    def form(self) -> RecordForm:
        """Value in the unit of the report."""
        self.read_dam()
        initial = {"dam": self.dam["uid"], "occurred_at": self.at}
        fields = entries.progesterone_entries(self.dam_choice())
        return RecordForm("progesterone-test", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Progesterone of {self.dam['name']}"


class NewMatingPage(DamEntryPage):
    """A mating of a dam; what speaks against it is said before it is saved."""

    said: str = ""

    def form(self) -> RecordForm:
        """Which sire, when, how."""
        self.read_dam()
        initial = {"dam": self.dam["uid"], "occurred_at": self.at}
        fields = entries.mating_entries(self.dam_choice(), entries.dog_choices(self.dogs, "male"))
        return RecordForm("mating", fields, self.here.zone, initial=initial)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Say first what is to be said; sent a second time it is stored."""
        form = self.form()
        data = form.read(request.POST)
        if request.GET.get("sure") != "yes":
            self.said = self._cautions(str(data.get("sire", "")))
            if self.said:
                return self.show(form, 422)
        return self.store(form, data)

    def _cautions(self, sire: str) -> str:
        with door.read(self.here, self.actor, self.at):
            ids = dict(
                Dog.objects.filter(
                    kennel_id=self.here.id, uid__in=[UUID(self.dam["uid"]), *_uids(sire)]
                ).values_list("uid", "id")
            )
            dam_id = ids[UUID(self.dam["uid"])]
            sire_id = next((found for uid, found in ids.items() if str(uid) == sire), None)
            words = []
            if sire_id is not None and sire_id != dam_id:
                known = load_pedigree([sire_id, dam_id], self.here.id)
                lines = inbreeding_lines(agreed_figures(self.here.id))
                forecast = forecast_of(known, sire_id, dam_id, lines=lines)
                if isinstance(forecast, str):
                    words.append(forecast)
                elif forecast.level is not InbreedingLevel.NONE:
                    words.append(forecast.cautions[0])
            day = local_day(self.at, self.here.zone)
            rules = findings_before_mating([(dam_id, day)], self.here)[0]
        words += [f"{one.rule.text} {one.text} ({one.rule.label})" for one in rules if not one.kept]
        return " ".join(words)

    def title(self) -> str:
        """Title."""
        return f"Mating of {self.dam['name']}"

    def more(self) -> dict[str, Any]:
        """After the caution the same form saves."""
        if not self.said:
            return {}
        return {"caution": self.said, "submit": "It is meant: save it", "form_action": "?sure=yes"}


def _uids(text: str) -> list[UUID]:
    try:
        return [UUID(text)]
    except ValueError:
        return []
