"""Choosing a kennel and making one."""

from typing import Any
from uuid import UUID
from zoneinfo import available_timezones

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from kennel.api.kennels import KennelInput
from kennel.people import selectors
from kennel.people.services.kennels import NewKennel, kennel_create
from kennel.records import service
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import SignedInPage
from kennel.web.form_fields import Entry, ShownField, data_of, shown_field
from kennel.web.forms import PLAIN_WORDS

MOST_TYPED = 100


class FirstPage(SignedInPage):
    """`/`: straight into the only kennel, or to the choice."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """Redirect to where the carer most likely wants to be."""
        found = selectors.kennels_of(self.carer)
        if len(found) == 1:
            return redirect("web:home", found[0][0].uid)
        return redirect("web:kennels")


class Chooser(SignedInPage):
    """The carer's kennels."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """All of them by name, and the way to a new one."""
        found = [{"kennel": kennel, "role": role.label} for kennel, role in selectors.kennels_of(self.carer)]
        return self.page("web/kennels.html", {"places": found})


def _zones() -> list[tuple[str, str]]:
    return [
        (zone, zone) for zone in sorted(available_timezones()) if "/" in zone and not zone.startswith("Etc/")
    ]


ENTRIES = (
    Entry("name", "Name of the kennel"),
    Entry("zone", "Time zone", "All times of this kennel are shown in this zone."),
    Entry("mass_unit", "Weights in"),
    Entry("temperature_unit", "Temperatures in"),
    Entry(
        "place",
        "Country or state",
        "Whose rules apply, as a code such as GB, GB-SCT or US-CA. May stay empty.",
    ),
)


class NewKennelPage(SignedInPage):
    """Making a kennel; whoever makes it is its keeper."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form."""
        fields = self._fields()
        by_name = {f.entry.name: f for f in fields}
        by_name["zone"].value = self.carer.zone if self.carer.zone != "UTC" else ""
        by_name["mass_unit"].value, by_name["temperature_unit"].value = (
            self.carer.mass_unit,
            self.carer.temperature_unit,
        )
        return self._show(fields, [], str(new_uid()))

    def post(self, request: HttpRequest) -> HttpResponse:
        """Make it, or say what is missing.  Pressing twice makes one kennel."""
        fields = self._fields()
        for shown in fields:
            shown.value = request.POST.get(shown.entry.name, "")[:MOST_TYPED]
        data = {f.entry.name: data_of(f.value, f.kind, "UTC") for f in fields}
        data = {name: value for name, value in data.items() if value is not None}
        uid = _uid(request.POST.get("uid", ""))
        known = {kennel.uid for kennel, _ in selectors.kennels_of(self.carer)}
        if uid in known:
            return redirect("web:home", uid)
        try:
            checked = service.check(KennelInput, data)
        except Refusal as refusal:
            return self._show(fields, _spread(refusal, fields), str(uid), 422)
        here = kennel_create(NewKennel(uid=uid, **checked.model_dump()), keeper=self.carer, at=self.at)
        messages.success(request, f"{here.name} is ready. You are its keeper.")
        return redirect("web:home", here.uid)

    @staticmethod
    def _fields() -> list[ShownField]:
        chosen = {"zone": _zones()}
        return [shown_field(KennelInput, Entry(e.name, e.label, e.help, chosen.get(e.name))) for e in ENTRIES]

    def _show(self, fields: list[ShownField], errors: list[str], uid: str, status: int = 200) -> HttpResponse:
        return self.page("web/kennel_new.html", {"fields": fields, "errors": errors, "uid": uid}, status)


def _uid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        return new_uid()


def _spread(refusal: Refusal, fields: list[ShownField]) -> list[str]:
    """Errors beside their fields; what belongs to none comes back."""
    by_name: dict[str, Any] = {f"#/{f.entry.name}": f for f in fields}
    rest = []
    for error in refusal.errors:
        text = PLAIN_WORDS.get(error.code, error.detail)
        if error.pointer in by_name:
            by_name[error.pointer].errors.append(text)
        else:
            rest.append(text)
    return rest
