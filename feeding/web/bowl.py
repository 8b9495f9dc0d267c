"""The next bowl of a litter: what goes in, and writing down what was offered and what came back."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from feeding import selectors
from feeding.ration_json import ration_json
from feeding.rations import MealAsked, next_meal_at, rations_at
from feeding.registrations import MEAL
from feeding.selectors import Ask
from feeding.web import reads
from kennel.clock.wall_clock import local_day
from kennel.people.choices import Role
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm, save_new
from kennel.web.record_pages import ChangeRecordPage
from litters.registrations import LITTER
from litters.web.reads import litters, row

# A bowl may be put down so long after its hour and is still that meal's bowl.
STILL_THIS_MEAL_MINUTES = 90


class FeedPage(KennelPage):
    """Which litter is fed: bowls, bottles, plans."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Litters that are born."""
        with door.read(self.here, self.actor, self.at):
            found = [litter for litter in litters(self.here.id) if litter["whelped_at"]]
        return self.page("feeding/feed.html", {"litters": found})


class BowlPage(KennelPage):
    """The next bowl of one litter, with the form to record it, also without network."""

    keep_offline = True
    least_role = Role.READER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """kcal, food, water, the weights they stand on, cautions, and the form."""
        self._read(uid_or_404(uid))
        return self._show(self._form())

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Store the meal (a page without script comes here)."""
        self._read(uid_or_404(uid))
        form = self._form()
        typed = form.read(request.POST)
        data = reads.moment_of(self, MEAL, form.uid, typed)
        absent = [text for text in request.POST.getlist("absent") if text][:30]
        stored = save_new(self, form, data | {"absent": absent})
        if stored is None:
            return self._show(form, absent=absent, status=422)
        with door.read(self.here, self.actor, self.at):
            meal = row(MEAL, self.here.id, stored)
        for warning in meal["warnings"]:
            messages.warning(request, warning["text"])
        messages.success(request, "Saved.")
        return redirect(reverse("web:bowl", args=[self.here.uid, uid]))

    def _read(self, uid: UUID) -> None:
        zone = self.here.zone
        with door.read(self.here, self.actor, self.at) as opened:
            since = datetime.fromtimestamp(self.at.timestamp() - STILL_THIS_MEAL_MINUTES * 60, self.at.tzinfo)
            facts = selectors.litter_facts([Ask(uid, self.at, local_day(self.at, zone))], opened)[0]
            if facts is None:
                raise Http404
            meals = reads.meals_of(self.here.id, uid)
            # The bowl of an hour ago is still to come until a meal was recorded near it.
            fed = any(datetime.fromisoformat(meal["occurred_at"]) >= since for meal in meals)
            meal_at = next_meal_at(facts, self.at if fed else since, zone) or self.at
            ration = rations_at([MealAsked(uid, meal_at, self.at)], opened)[0]
            self.litter = row(LITTER, self.here.id, uid)
        assert ration is not None  # the litter is here
        self.ration, self.meals, self.pups = ration_json(ration), meals, facts.pups

    def _form(self) -> RecordForm:
        per_meal = self.ration.get("per_meal") or {}
        entries = [
            Entry("litter", "Litter", choices=[(self.litter["uid"], self.litter["name"])], is_hidden=True),
            Entry("dry_g", "Food offered, before water", unit="g", is_large=True),
            Entry("water_ml", "Water", unit="mL"),
            Entry("left_wet_g", "What came back, weighed as it is", "Can be added later.", unit="g"),
            Entry("bowls", "Bowls", is_more=True),
            Entry("occurred_at", "Offered at", is_more=True),
            Entry("note", "Note", is_more=True),
        ]
        initial: dict[str, Any] = {"litter": self.litter["uid"], "occurred_at": self.at}
        if per_meal:
            initial |= {
                "dry_g": round(per_meal["dry_g"]),
                "water_ml": round(self._water_ml()),
                "bowls": self.ration["bowls"],
            }
        return RecordForm("meal", entries, self.here.zone, initial=initial)

    def _water_ml(self) -> float:
        per_meal = self.ration["per_meal"]
        return float(per_meal["water_ml"])

    def _show(self, form: RecordForm, *, absent: list[str] | None = None, status: int = 200) -> HttpResponse:
        values = {
            "litter": self.litter,
            "ration": self.ration,
            "form": form,
            "opened_at": next(f.value for f in form.fields if f.entry.name == "occurred_at"),
            "pups": self.pups,
            "absent": absent or [],
            "meals": self.meals,
        }
        return self.page("feeding/bowl.html", values, status)


class CameBackPage(ChangeRecordPage):
    """Adding to a recorded meal what came back."""

    REASON = "Weighed what came back."
    caution = "Throw away what came back; never keep softened food for the next meal."

    def form(self) -> RecordForm:
        """One number; the reason is known."""
        with door.read(self.here, self.actor, self.at):
            self.meal = row(MEAL, self.here.id, self.uid)
            self.litter = row(LITTER, self.here.id, UUID(self.meal["litter"]))
        entries = [
            Entry(
                "left_wet_g",
                "What came back, weighed as it is",
                "0 for an empty bowl.",
                unit="g",
                is_large=True,
            ),
            Entry("reason", "Why is it changed?", is_hidden=True),
        ]
        form = RecordForm("meal", entries, self.here.zone, row=self.meal)
        for shown in form.fields:
            if shown.entry.name == "reason":
                shown.value = self.REASON
                form.basis["reason"] = ""
        return form

    def title(self) -> str:
        """Title."""
        return f"What came back: {self.litter['name']}"

    def cancel_url(self) -> str:
        """Back to the bowl."""
        return reverse("web:bowl", args=[self.here.uid, self.litter["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the bowl."""
        return self.cancel_url()
