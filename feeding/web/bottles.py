"""The bottle: temperature first, then the suck, only then a volume; and writing down what was taken."""

import re
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from feeding import bottles, selectors
from feeding.api.views import bottle_json
from feeding.registrations import BOTTLE_FEED
from feeding.selectors import Ask
from feeding.web import reads
from kennel.clock.wall_clock import local_day
from kennel.people.choices import Role
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm, save_new
from litters.web.reads import row

STEPS = {
    "measure_first": "Take the temperature first",
    "warm_first": "No milk: warm the pup slowly first",
    "vet": "No bottle: ring the vet",
    "test_suck": "Try the suck first",
    "feed": "It may have its milk",
}


class BottlesPage(KennelPage):
    """The pups of a litter: who gets a bottle."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Hand-fed and topped-up pups first."""
        with door.read(self.here, self.actor, self.at) as opened:
            ask = Ask(uid_or_404(uid), self.at, local_day(self.at, self.here.zone))
            facts = selectors.litter_facts([ask], opened)[0]
        if facts is None:
            raise Http404
        pups = sorted(facts.pups, key=lambda pup: pup.rearing == "sucking")
        return self.page("feeding/bottles.html", {"litter": facts.row, "pups": pups})


class BottlePage(KennelPage):
    """One pup before its bottle, and the form to record it, also without network."""

    keep_offline = True
    least_role = Role.READER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """What to do first; a volume only where milk may be given."""
        self._read(uid_or_404(uid))
        return self._show(self._form())

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Store the feed; advice stays beside it and is said."""
        self._read(uid_or_404(uid))
        form = self._form()
        typed = form.read(request.POST)
        data = reads.moment_of(self, BOTTLE_FEED, form.uid, typed)
        if (found := request.POST.get("is_sucking", "")) in ("yes", "no"):
            data["is_sucking"] = found == "yes"
        stored = save_new(self, form, data)
        if stored is None:
            return self._show(form, 422)
        with door.read(self.here, self.actor, self.at):
            feed = row(BOTTLE_FEED, self.here.id, stored)
        for warning in feed["warnings"]:
            messages.warning(request, warning["text"])
        messages.success(request, "Saved.")
        return redirect(reverse("web:bottle", args=[self.here.uid, uid]))

    def _read(self, uid: UUID) -> None:
        query = self.request.GET
        typed = query.get("temp_c", "").replace(",", ".").strip()
        temp_c = float(typed) if re.fullmatch(r"[0-9]{2}(\.[0-9]{1,2})?", typed, re.ASCII) else None
        if temp_c is not None and not 25 <= temp_c <= 45:
            temp_c = None
        sucking = {"yes": True, "no": False}.get(query.get("is_sucking", ""))
        with door.read(self.here, self.actor, self.at) as opened:
            found = bottles.bottles_at([bottles.BottleAsked(uid, self.at, temp_c, sucking)], opened)[0]
        if found is None:
            raise Http404
        self.bottle, self.temp_c, self.sucking = bottle_json(found), temp_c, sucking

    def _form(self) -> RecordForm:
        entries = [
            Entry("pup", "Pup", choices=[(self.bottle["pup"], self.bottle["name"])], is_hidden=True),
            Entry("temp_c", "Temperature before", unit="°C"),
            Entry("taken_ml", "Milk taken", unit="mL", is_large=True),
            Entry("offered_ml", "Milk offered", unit="mL"),
            Entry("urine_seen", "Urine came"),
            Entry("stool_seen", "Stool came"),
            Entry("by_tube", "By tube", is_more=True),
            Entry("occurred_at", "Fed at", is_more=True),
            Entry("note", "Note", is_more=True),
        ]
        initial = {"pup": self.bottle["pup"], "occurred_at": self.at, "temp_c": self.temp_c}
        return RecordForm("bottle-feed", entries, self.here.zone, initial=initial)

    def _show(self, form: RecordForm, status: int = 200) -> HttpResponse:
        values = {
            "bottle": self.bottle,
            "step": STEPS.get(self.bottle["step"] or "", ""),
            "form": form,
            "temp_c": "" if self.temp_c is None else f"{self.temp_c:g}",
            "sucking": {True: "yes", False: "no"}.get(self.sucking, "") if self.sucking is not None else "",
            "opened_at": next(f.value for f in form.fields if f.entry.name == "occurred_at"),
        }
        return self.page("feeding/bottle.html", values, status)
