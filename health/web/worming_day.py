"""The worming day of a litter: every pup, its dose, lot and expiry once, on one screen, also without network."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from health import selectors
from health.choices import Purpose
from health.domain.advice import Level
from health.domain.dosing import CAUTION
from health.doses import DoseAsked, DoseHere, doses_at
from health.registrations import TREATMENT
from health.web import reads
from kennel.people.choices import Role
from kennel.records import door, service
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from litters.registrations import LITTER

WORKED = (("given", "Given"), ("spat_out", "Spat out"), ("vomited", "Vomited"))


class WormingDayPage(KennelPage):
    """Which medicine the litter gets."""

    keep_offline = True
    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The medicines in use, wormers first."""
        with door.read(self.here, self.actor, self.at):
            litter = reads.row(LITTER, self.here.id, uid_or_404(uid))
            medicines = [one for one in reads.medicines(self.here.id) if one["in_use"]]
        medicines.sort(key=lambda one: one["purpose"] != Purpose.WORMING)
        return self.page("health/worming_day.html", {"litter": litter, "medicines": medicines})


@dataclass(frozen=True)
class Line:
    """One pup's part of the form: its dose, and what was typed for it."""

    dose: DoseHere
    uid: str
    amount: str
    outcome: str
    is_given: bool

    @property
    def is_offered(self) -> bool:
        """Whether there is a dose to show."""
        return self.dose.found.amount is not None or self.dose.found.dose_mg is not None

    @property
    def cautions(self) -> list[str]:
        """What to mind beside the dose."""
        return [advice.text for advice in self.dose.found.advice if advice.level is not Level.INFO]


class WormingDosesPage(KennelPage):
    """Every pup with its dose, the cautions beside the button, lot and expiry once."""

    keep_offline = True
    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str, uid: str, medicine: str) -> HttpResponse:
        """The doses of that medicine now."""
        self._read(uid_or_404(uid), uid_or_404(medicine))
        return self._show([])

    def post(self, request: HttpRequest, kennel: str, uid: str, medicine: str) -> HttpResponse:
        """Record what was ticked; each pup's entry carries its own uid, so pressing twice records it once."""
        self._read(uid_or_404(uid), uid_or_404(medicine))
        lines = [line for line in self.lines if line.is_given]
        items, errors = [], [] if lines else ["Nobody is ticked."]
        for place, line in enumerate(lines):
            try:
                checked = service.check(TREATMENT.input, self._data(line))
            except Refusal as refusal:
                errors += _said(line, refusal)
            else:
                items.append(service.NewRecord(place, uid_or_404(line.uid), checked))
        if errors:
            return self._show(errors)
        with door.write(self.here, self.actor, self.at) as opened:
            outcomes = service.create(TREATMENT, items, opened)
        refused = [one for one in outcomes if one.refusal is not None]
        errors = [text for one in refused if one.refusal for text in _said(lines[one.index], one.refusal)]
        if errors:
            return self._show(errors, saved=len(outcomes) - len(refused))
        messages.success(request, f"Saved for {len(items)}.")
        return redirect("web:treatments", self.here.uid)

    def _read(self, litter: UUID, medicine: UUID) -> None:
        with door.read(self.here, self.actor, self.at) as opened:
            self.litter = reads.row(LITTER, self.here.id, litter)
            found = selectors.medicines_by_uid([medicine], opened).get(medicine)
            if found is None:
                raise Http404
            self.medicine = found
            pups = selectors.pups_here([litter], self.at, opened)
            asked = [DoseAsked("pup", pup, found, self.at) for _, pup in pups]
            doses = [one for one in doses_at(asked, opened) if one is not None]
        self.lines = [self._line(dose) for dose in doses]

    def _line(self, dose: DoseHere) -> Line:
        post, key = self.request.POST, str(dose.facts.uid)
        amount = "" if dose.found.amount is None else f"{dose.found.amount:.2f}"
        return Line(
            dose,
            post.get(f"uid:{key}") or str(new_uid()),
            post.get(f"amount:{key}", amount),
            post.get(f"outcome:{key}") or "given",
            post.get(f"give:{key}") == "yes",
        )

    def _show(self, errors: list[str], saved: int = 0) -> HttpResponse:
        values = {
            "litter": self.litter,
            "medicine": self.medicine,
            "is_worming": self.medicine["purpose"] == Purpose.WORMING,
            "lines": self.lines,
            "outcomes": WORKED,
            "caution": CAUTION,
            "errors": errors,
            "saved": saved,
            "typed": self.request.POST,
        }
        return self.page("health/worming_doses.html", values, 422 if errors else 200)

    def _data(self, line: Line) -> dict[str, Any]:
        post = self.request.POST
        data: dict[str, Any] = {
            "pup": str(line.dose.facts.uid),
            "medicine": self.medicine["uid"],
            "occurred_at": self.at.isoformat(),
            "lot": post.get("lot", ""),
            "outcome": line.outcome,
        }
        if post.get("expires_on"):
            data["expires_on"] = post["expires_on"]
        amount = line.amount.strip().replace(",", ".")
        if amount and line.dose.found.amount_unit:
            data |= {"amount": amount, "amount_unit": line.dose.found.amount_unit}
        return data


def _said(line: Line, refusal: Refusal) -> list[str]:
    name = line.dose.facts.called
    return [f"{name}: {error.detail}" for error in refusal.errors] or [
        f"{name}: {refusal.detail or 'not accepted'}"
    ]
