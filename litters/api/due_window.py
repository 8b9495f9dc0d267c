"""When a litter is due: one window from all evidence, what it rests on, and what to do when."""

from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any

from django.http import HttpResponse

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.clock.wall_clock import local_day
from kennel.records import door
from litters.api.answers import OBJECTS, answer, head_of
from litters.domain.due_window import CAUTION, METHOD
from litters.domain.gestation import DueWindow, Evidence
from litters.services.due_windows import Prediction, predict

NOTHING = "Nothing on record dates this pregnancy yet: a mating, blood tests or a scan would."


class LitterDueWindow(KennelView):
    """The due window of a litter with its evidence, every earlier prediction and the milestones."""

    summary_of = {"get": "Due window of a litter"}
    answer_schema = answer(
        ("window", "contributions", "flags", "history", "milestones", "inputs", "method", "caution"),
        window={"type": ["object", "null"]},
        contributions=OBJECTS,
        flags=OBJECTS,
        history=OBJECTS,
        milestones=OBJECTS,
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Earliest, likeliest and latest day, what decides, and what each statement says alone."""
        with door.read(self.here, self.actor, self.at):
            found = predict(head_of(self, uid), self.here, self.at)
        return json_response(dumps(due_window_answer(found, self.at, self.here.zone)))


def due_window_answer(found: Prediction, at: datetime, zone: str) -> dict[str, Any]:
    """A prediction as plain values."""
    today = local_day(at, zone)
    head = found.pregnancy.head
    judged = found.window or found.nothing
    return {
        "litter": head.uid,
        "at": at,
        "whelped_at": head.whelped_at,
        "window": _window(found.window) if found.window else None,
        "reason": "" if found.window else NOTHING,
        "probability_by_day": asdict(found.window)["probability_by_day"] if found.window else [],
        "contributions": [asdict(one) for one in judged.contributions] if judged else [],
        "flags": [asdict(one) for one in judged.flags] if judged else [],
        "history": [_window(window) for window in found.history],
        "milestones": [asdict(one) for one in found.milestones],
        "temperatures": {
            "falls": [asdict(fall) for fall in found.pregnancy.falls.falls],
            "own_mean_c": found.pregnancy.falls.own_mean_c,
            "gaps": found.pregnancy.falls.gaps,
            "caution": found.pregnancy.falls.caution,
        },
        "inputs": [
            *(_input(item, today) for item in found.pregnancy.evidence),
            {"name": "dam's usual weight", "value": head.dam_kg, "unit": "kg"},
        ],
        "method": found.window.method if found.window else METHOD,
        "source": found.window.source if found.window else "",
        "caution": CAUTION,
    }


def _window(window: DueWindow) -> dict[str, Any]:
    return {
        "earliest_on": window.earliest_on,
        "likeliest_on": window.likeliest_on,
        "latest_on": window.latest_on,
        "share_in_window": window.share_in_window,
        "sd_days": round(window.sd_days, 2),
        "driver": window.driver,
        "driver_title": window.driver_title,
        "is_conflicting": window.is_conflicting,
        "known_until": window.known_until,
    }


def _input(item: Evidence, today: date) -> dict[str, Any]:
    told = asdict(item)
    on: date = told.pop("on")
    type_name, _, uid = str(told.pop("ref")).partition(":")
    return {"name": type(item).__name__, "type": type_name, "uid": uid or None, "on": on} | {
        "age_days": (today - on) // timedelta(days=1),
        "said": told,
    }
