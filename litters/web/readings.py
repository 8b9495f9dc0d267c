"""Entering temperatures of pups and dogs, and whelping-box climate; also without network."""

from typing import Any
from uuid import UUID

from django.urls import reverse

from kennel.records import door
from kennel.web.base import uid_or_404
from kennel.web.forms import RecordForm
from kennel.web.record_pages import NewRecordPage
from litters.choices import Fate
from litters.registrations import DOG, LITTER
from litters.web import entries, reads

WARM_FIRST = (
    "Warm a cold pup slowly before anything else: no milk while it is under 35 °C in its first week (36 °C in the "
    "second and third). Cold, limp or not sucking: ring the vet."
)
DAM_CAUTION = "Before whelping a fall can be brief or missed. Afterwards ring the vet at 39.5 °C and above, or when she is dull."
CLIMATE_CAUTION = (
    "Read it where the pups lie, and watch the pups: in a heap they are cold, spread out and panting too hot. They must "
    "be able to crawl away from the warmth."
)


class LitterEntryPage(NewRecordPage):
    """Base of the entry forms of one litter."""

    keep_offline = True

    def read_litter(self) -> None:
        """The litter and the pups that are here, inside one open door."""
        with door.read(self.here, self.actor, self.at):
            self.litter = reads.row(LITTER, self.here.id, uid_or_404(self.kwargs["uid"]))
            pups = reads.pups_of(self.here.id, [self.litter["uid"]])[self.litter["uid"]]
        self.pups = [pup for pup in pups if pup["fate"] == Fate.LIVING and not pup["left_at"]]

    def pup_choices(self) -> entries.Choices:
        """The pups that are here, by the word of their band."""
        return [(pup["uid"], entries.pup_label(pup)) for pup in self.pups]

    def litter_choice(self) -> entries.Choices:
        """The litter itself, for the form to carry."""
        return [(self.litter["uid"], self.litter["name"])]

    def cancel_url(self) -> str:
        """Back to the litter."""
        return reverse("web:litter", args=[self.here.uid, self.kwargs["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the litter."""
        return self.cancel_url()


class PupTemperaturePage(LitterEntryPage):
    """A temperature of one of a litter's pups."""

    caution = WARM_FIRST

    def form(self) -> RecordForm:
        """Which pup, how warm, when."""
        self.read_litter()
        initial = {
            "pup": self.request.GET.get("pup", ""),
            "entered_unit": self.carer.temperature_unit,
            "occurred_at": self.at,
        }
        fields = entries.temperature_entries("pup", self.pup_choices())
        return RecordForm("temperature", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Temperature: {self.litter['name']}"

    def more(self) -> dict[str, Any]:
        """What an entry is called while it waits on the device."""
        return {"offline_type": "temperature", "offline_label": f"Temperature, {self.litter['name']}"}

    def saved_url(self, uid: UUID) -> str:
        """The next pup."""
        return reverse("web:pup-temperature", args=[self.here.uid, self.kwargs["uid"]])


class BoxClimatePage(LitterEntryPage):
    """Whelping-box climate."""

    caution = CLIMATE_CAUTION

    def form(self) -> RecordForm:
        """What the thermometers say, and when."""
        self.read_litter()
        initial = {"litter": self.litter["uid"], "occurred_at": self.at}
        fields = entries.climate_entries(self.litter_choice())
        return RecordForm("box-climate", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Whelping box: {self.litter['name']}"

    def more(self) -> dict[str, Any]:
        """What an entry is called while it waits on the device."""
        return {"offline_type": "box-climate", "offline_label": f"Whelping box, {self.litter['name']}"}


class DogTemperaturePage(NewRecordPage):
    """A temperature of a grown dog."""

    keep_offline = True
    caution = DAM_CAUTION

    def form(self) -> RecordForm:
        """How warm, when."""
        with door.read(self.here, self.actor, self.at):
            self.dog = reads.row(DOG, self.here.id, uid_or_404(self.kwargs["uid"]))
        initial = {
            "dog": self.dog["uid"],
            "entered_unit": self.carer.temperature_unit,
            "occurred_at": self.at,
        }
        fields = entries.temperature_entries("dog", [(self.dog["uid"], self.dog["name"])], is_fixed=True)
        return RecordForm("temperature", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Temperature of {self.dog['name']}"

    def more(self) -> dict[str, Any]:
        """What an entry is called while it waits on the device."""
        return {"offline_type": "temperature", "offline_label": f"Temperature of {self.dog['name']}"}

    def cancel_url(self) -> str:
        """Back to the dog."""
        return reverse("web:dog", args=[self.here.uid, self.kwargs["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the dog."""
        return self.cancel_url()
