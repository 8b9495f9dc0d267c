"""Pages about dams, sires and the dogs behind them."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.registrations import DOG
from litters.web import entries, links, reads
from litters.web.weighing_lines import weighing_lines


class DogsPage(KennelPage):
    """All dogs of the kennel."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Those that live here first."""
        with door.read(self.here, self.actor, self.at):
            found = reads.dogs(self.here.id)
        here = [dog for dog in found if dog["lives_here"]]
        return self.page("litters/dogs.html", {"dogs": here, "elsewhere": found[len(here) :]})


class DogPage(KennelPage):
    """One dog: what it is, its litters, its weights."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The dog."""
        identifier = uid_or_404(uid)
        with door.read(self.here, self.actor, self.at):
            dog = reads.row(DOG, self.here.id, identifier)
            parents = reads.rows_by_uid(DOG, self.here.id, [dog["sire"], dog["dam"]])
            litters = reads.litters_of_dog(self.here.id, uid)
            weighings, older = weighing_lines(self.here, "dog", identifier, request.GET.get("before", ""))
        values = {
            "dog": dog,
            "links": links.of(links.DOG, identifier, self.here, self.actor),
            "sire": parents.get(dog["sire"] or ""),
            "dam": parents.get(dog["dam"] or ""),
            "litters": litters,
            "weighings": weighings,
            "older": older,
        }
        return self.page("litters/dog.html", values)


class NewDogPage(NewRecordPage):
    """Adding a dog."""

    def form(self) -> RecordForm:
        """A dog's fields; parents are chosen among the dogs known here."""
        with door.read(self.here, self.actor, self.at):
            dogs = reads.dogs(self.here.id)
        return RecordForm("dog", entries.dog_entries(dogs), self.here.zone)

    def title(self) -> str:
        """Title."""
        return "Add a dog"

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:dogs", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the dog."""
        return reverse("web:dog", args=[self.here.uid, uid])


class ChangeDogPage(ChangeRecordPage):
    """Changing what is known of a dog."""

    def form(self) -> RecordForm:
        """The same fields, filled in."""
        with door.read(self.here, self.actor, self.at):
            self.dog = reads.row(DOG, self.here.id, self.uid)
            others = [dog for dog in reads.dogs(self.here.id) if dog["uid"] != self.dog["uid"]]
        return RecordForm("dog", entries.dog_entries(others), self.here.zone, row=self.dog)

    def title(self) -> str:
        """Title."""
        return f"Change {self.dog['name']}"

    def cancel_url(self) -> str:
        """Back to the dog."""
        return reverse("web:dog", args=[self.here.uid, self.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the dog."""
        return reverse("web:dog", args=[self.here.uid, uid])


class WeighDogPage(NewRecordPage):
    """A weight of a grown dog."""

    keep_offline = True
    template = "litters/weigh_dog.html"

    def form(self) -> RecordForm:
        """Value, unit and time; the unit is the one the carer reads heavy animals in."""
        with door.read(self.here, self.actor, self.at):
            self.dog = reads.row(DOG, self.here.id, uid_or_404(self.kwargs["uid"]))
        heavy = {"g": "kg", "oz": "lb"}
        initial = {
            "dog": self.dog["uid"],
            "entered_unit": heavy.get(self.carer.mass_unit, self.carer.mass_unit),
            "occurred_at": self.at,
        }
        fields = entries.weighing_entries("dog", [(self.dog["uid"], self.dog["name"])], is_fixed=True)
        return RecordForm("weighing", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Weigh {self.dog['name']}"

    def more(self) -> dict[str, object]:
        """What an entry is called while it waits on the device."""
        return {"offline_type": "weighing", "offline_label": f"Weight of {self.dog['name']}"}

    def cancel_url(self) -> str:
        """Back to the dog."""
        return reverse("web:dog", args=[self.here.uid, self.kwargs["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the dog."""
        return self.cancel_url()
