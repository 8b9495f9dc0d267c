"""What still keeps pups from leaving, and the one visit to the vet that frees most of them."""

from dataclasses import asdict
from typing import Any

from django.http import HttpResponse
from pydantic import BaseModel

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from kennel.records.refusals import invalid
from litters.api.answers import OBJECTS, answer, fact, head_of
from litters.api.pups import pup_of
from litters.domain.appointment import Appointment, best_appointment
from litters.domain.leaving import CAUTION
from litters.selectors_litters import litter_heads
from litters.services.leavings import LitterLeaving, PupLeaving, leaving_of, leaving_of_pup

METHOD = (
    "Every enabled rule of the place and every open plan, each with the day it clears; the latest one counts."
)


class LeavingQuery(BaseModel):
    """closed_weekdays: days the vet does not see pups, 0 Monday to 6 Sunday, with commas."""

    closed_weekdays: str = ""


class LitterLeavingRead(KennelView):
    """What keeps each pup of a litter, and the one visit that frees most of them."""

    summary_of = {"get": "What keeps the pups of a litter from leaving"}
    query_input = LeavingQuery
    slugs = ("validation",)
    answer_schema = answer(
        ("pups", "appointment", "rules", "method", "caution"),
        pups=OBJECTS,
        appointment={"type": ["object", "null"]},
        rules={"type": "object"},
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Holds with their dates, waived ones too, and the appointment with the days that free fewer."""
        closed = _weekdays(request.query_params.get("closed_weekdays", ""))
        with door.read(self.here, self.actor, self.at):
            head = head_of(self, uid)
            found = leaving_of(head, self.here, self.at)
        visit = best_appointment([one.found for one in found.pups], found.on, closed_weekdays=closed)
        told = {
            "litter": head.uid,
            "on": found.on,
            "pups": [pup_answer(one) for one in found.pups],
            "appointment": _appointment(visit, found) if visit else None,
        }
        return json_response(dumps(told | _common(found, self.at)))


class PupLeavingRead(KennelView):
    """What keeps one pup from leaving, each with its date."""

    summary_of = {"get": "What keeps a pup from leaving"}
    answer_schema = answer(("pup", "is_here", "holds", "rules", "method", "caution"), holds=OBJECTS)

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The holds of the pup; none when it is not here any more."""
        with door.read(self.here, self.actor, self.at):
            pup = pup_of(self, uid)
            head = litter_heads([pup.litter], self.here.id)[pup.litter]
            found = leaving_of(head, self.here, self.at)
        one = leaving_of_pup(found, pup.uid)
        told: dict[str, Any] = {"pup": pup.uid, "is_here": one is not None, "holds": []}
        if one is not None:
            told |= pup_answer(one)
        return json_response(dumps({"on": found.on} | told | _common(found, self.at)))


def pup_answer(one: PupLeaving) -> dict[str, Any]:
    """A pup's holds as plain values."""
    return {
        "pup": one.pup.uid,
        "called": one.found.pup,
        "free_on": one.found.free_on,
        "earliest_on": one.found.earliest_on,
        "holds": [asdict(hold) for hold in one.found.holds],
    }


def _common(found: LitterLeaving, at: Any) -> dict[str, Any]:
    return {
        "rules": {"set": found.rules.name, "caution": found.rules.caution},
        "inputs": [
            fact(f"{rule.key}", rule.value, at=at) | {"label": rule.label, "is_enabled": rule.enabled}
            for rule in found.rules.rules
        ],
        "method": METHOD,
        "source": "Named with each hold.",
        "caution": CAUTION,
    }


def _appointment(visit: Appointment, found: LitterLeaving) -> dict[str, Any]:
    uids = {one.found.pup: one.pup.uid for one in found.pups}
    told = asdict(visit)
    for pup in (*told["frees"], *told["still_kept"]):
        pup["called"] = pup["pup"]
        pup["pup"] = uids[pup["pup"]]
    return told


def _weekdays(text: str) -> tuple[int, ...]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if any(len(part) != 1 or part not in "0123456" for part in parts):
        raise invalid("closed_weekdays", "weekday", "Weekdays are 0 (Monday) to 6 (Sunday), with commas.")
    return tuple(int(part) for part in parts)
