"""Pages about medicines: what stands in the cupboard, as each label says."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from health.domain.dosing import CAUTION
from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of, medicine_of
from health.registrations import MEDICINE
from health.web import entries, reads
from kennel.people.choices import Role
from kennel.records import door
from kennel.web.base import KennelPage
from kennel.web.forms import RecordForm
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage


class MedicinesPage(KennelPage):
    """The medicines of the kennel, and published labels to copy one from."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Those in use first."""
        with door.read(self.here, self.actor, self.at):
            medicines = reads.medicines(self.here.id)
        for one in medicines:
            one["label"] = label_words(one)
        values = {
            "medicines": medicines,
            "labels": [(key, one.name) for key, one in PUBLISHED_LABELS.items()],
            "is_keeper": self.actor.may(Role.KEEPER),
            "caution": CAUTION,
        }
        return self.page("health/medicines.html", values)


def label_words(row: dict[str, Any]) -> list[str]:
    """What the label says, line by line, with units in words."""
    medicine = medicine_of(row)
    words = []
    if medicine.strength is not None:
        words.append(medicine.strength.in_words)
    for band in medicine.bands:
        upper = "" if band.to_kg is None else f" to {band.to_kg:.3g} kg"
        where = f"From {band.from_kg:.3g} kg{upper}: " if len(medicine.bands) > 1 else ""
        words.append(where + band.give.in_words)
    if medicine.minimum_age_days is not None:
        words.append(f"Not under {medicine.minimum_age_days} days of age.")
    if medicine.minimum_mass_kg is not None:
        words.append(f"Not under {medicine.minimum_mass_kg * 1000:g} g.")
    if medicine.vet_only:
        words.append("Dosed by a vet only.")
    return words


class _Lists:
    """Bands and further actives are lists: they are copied from a label, and changed through the API."""

    def title(self) -> str:
        """Title."""
        return "A medicine"

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:medicines", args=[self.here.uid])  # type: ignore[attr-defined]

    def saved_url(self, uid: UUID) -> str:
        """To the list."""
        return self.cancel_url()


class NewMedicinePage(_Lists, NewRecordPage):
    """Adding a medicine, empty or as a copy of a published label (`?label=`)."""

    write_role = Role.KEEPER
    least_role = Role.KEEPER
    caution = (
        "Check every figure against the label in your hand, the strength first: tenfold strengths are about."
    )

    def _body(self) -> dict[str, Any]:
        label = PUBLISHED_LABELS.get(self.request.GET.get("label", ""))
        return {} if label is None else body_of(label)

    def form(self) -> RecordForm:
        """The label's fields."""
        return RecordForm("medicine", entries.medicine_entries(), self.here.zone, initial=self._body())

    def extra(self) -> dict[str, Any]:
        """The weight table and further actives of the label that was copied."""
        body = self._body()
        return {name: body[name] for name in ("bands", "other_actives") if body.get(name)}


class ChangeMedicinePage(_Lists, ChangeRecordPage):
    """Correcting a medicine's label."""

    write_role = Role.KEEPER
    least_role = Role.KEEPER

    def form(self) -> RecordForm:
        """The same fields, filled in."""
        with door.read(self.here, self.actor, self.at):
            medicine = reads.row(MEDICINE, self.here.id, self.uid)
        return RecordForm("medicine", entries.medicine_entries(), self.here.zone, row=medicine)
