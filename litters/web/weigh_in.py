"""The weigh-in: one pup after the other, by the word of its band, with wet hands, also without network."""

from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.people.choices import MassUnit, Role
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm, save_new
from litters.choices import Fate
from litters.registrations import LITTER
from litters.services.weighings import GRAMS, grams
from litters.web import entries, reads, weights
from litters.web.second_look import expected_g

# A pup weighed so shortly ago belongs to this round.
ROUND = timedelta(hours=3)


class WeighPage(KennelPage):
    """Which litter, or which grown dog, is weighed."""

    keep_offline = True
    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Litters with pups, and the grown dogs."""
        with door.read(self.here, self.actor, self.at):
            litters = [litter for litter in reads.litters(self.here.id) if litter["whelped_at"]]
            dogs = [dog for dog in reads.dogs(self.here.id) if dog["lives_here"]]
        return self.page("litters/weigh_choice.html", {"litters": litters, "dogs": dogs})


class WeighInPage(KennelPage):
    """The weigh-in of one litter."""

    keep_offline = True
    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The pup asked for by `?pup=`, else the next one that was not weighed in this round."""
        self._read(uid_or_404(uid))
        current = self._pup(request.GET.get("pup", "")) or self._next_of(None)
        return self._show(self._form(current), current)

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Store one weight and go on to the next pup (a page without script comes here)."""
        self._read(uid_or_404(uid))
        current = self._pup(request.POST.get("pup", ""))
        form = self._form(current)
        data = form.read(request.POST)
        if request.POST.get("occurred_at", "") == request.POST.get("opened_at", ""):
            data["occurred_at"] = self.at.isoformat()
        look = self._second_look(current, data)
        if look and request.POST.get("sure") != "yes":
            return self._show(form, current, look=look, status=422)
        if save_new(self, form, data) is None:
            return self._show(form, current, status=422)
        assert current is not None
        messages.success(
            request, f"Saved: {current['label']} {data['entered_value']} {data['entered_unit']}."
        )
        following = self._next_of(current)
        url = reverse("web:weigh-in", args=[self.here.uid, uid])
        return redirect(f"{url}?pup={following['uid']}" if following else url)

    def _read(self, uid: UUID) -> None:
        with door.read(self.here, self.actor, self.at):
            self.litter = reads.row(LITTER, self.here.id, uid)
            pups = reads.pups_of(self.here.id, [self.litter["uid"]])[self.litter["uid"]]
            last = reads.last_weights(self.here.id, uid)
        living = [pup for pup in pups if pup["fate"] == Fate.LIVING]
        # One that went home is not in the round, but can still be chosen: its weight is kept with a warning.
        asked = self.request.POST.get("pup", "") or self.request.GET.get("pup", "")
        self.pups = [pup for pup in living if not pup["left_at"] or pup["uid"] == asked]
        for pup in self.pups:
            pup["label"] = entries.pup_label(pup)
            newest = next(iter(last.get(pup["uid"], ())), None)
            pup["newest"] = newest
            pup["is_weighed"] = newest is not None and self.at - newest["occurred_at"] < ROUND
            pup["expected"] = self._expected(newest)

    def _expected(self, newest: dict[str, Any] | None) -> tuple[float, float] | None:
        if newest is None:
            is_newborn = (
                self.at - datetime.fromisoformat(self.litter["whelped_at"] or self.at.isoformat()) < ROUND * 8
            )
            return expected_g(None, None, self.at) if is_newborn else None
        return expected_g(float(newest["weight_g"]), newest["occurred_at"], self.at)

    def _pup(self, uid: str) -> dict[str, Any] | None:
        return next((pup for pup in self.pups if pup["uid"] == uid), None)

    def _next_of(self, current: dict[str, Any] | None) -> dict[str, Any] | None:
        """The next pup of the round after the current one, going round; None when all are weighed."""
        start = self.pups.index(current) + 1 if current else 0
        around = self.pups[start:] + self.pups[:start]
        return next((pup for pup in around if not pup["is_weighed"] and pup is not current), None)

    def _form(self, current: dict[str, Any] | None) -> RecordForm:
        choices = [(pup["uid"], pup["label"]) for pup in self.pups]
        initial = {"entered_unit": self.carer.mass_unit, "occurred_at": self.at}
        if current:
            initial["pup"] = current["uid"]
        return RecordForm(
            "weighing", entries.weighing_entries("pup", choices), self.here.zone, initial=initial
        )

    def _second_look(self, current: dict[str, Any] | None, data: dict[str, Any]) -> str:
        """The question before an unlikely weight is saved, or an empty text."""
        typed = _number(data)
        unit = str(data.get("entered_unit", ""))
        if current is None or typed is None or not current["expected"] or unit not in MassUnit.values:
            return ""
        least, most = current["expected"]
        if least <= float(grams(typed, MassUnit(unit))) <= most:
            return ""
        reading = f"{weights.plain(typed)} {unit}"
        return f"{reading} is far from what {current['label']} weighed last. Look at the scale again."

    def _show(
        self, form: RecordForm, current: dict[str, Any] | None, *, look: str = "", status: int = 200
    ) -> HttpResponse:
        values = {
            "litter": self.litter,
            "pups": self.pups,
            "current": current,
            "form": form,
            "field": {f.entry.name: f for f in form.fields},
            "look": look,
            "gram_sizes": {unit.value: str(size) for unit, size in GRAMS.items()},
        }
        return self.page("litters/weigh_in.html", values, status)


def _number(data: dict[str, Any]) -> Decimal | None:
    try:
        value = Decimal(str(data.get("entered_value")))
    except InvalidOperation:
        return None
    return value if value.is_finite() else None
