"""Where the facts of this app's duties are written down."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.urls import reverse

from kennel.duties.pages import FactPage, record_fact_on


def dose(kennel: UUID, duty: Mapping[str, Any]) -> FactPage:
    """The one animal's treatment; the litter's worming day when there are several, with the medicine of the plan."""
    waiting = [animal for animal in duty["animals"] if animal["state"] == "outstanding"] or duty["animals"]
    litter, medicine = duty["asks"].get("litter"), duty["asks"].get("medicine")
    if litter is None or len(waiting) == 1:
        one = waiting[0]
        url = reverse(f"web:{one['type']}-treat", args=[kennel, one["uid"]])
    elif medicine is None:
        url = reverse("web:worming-day", args=[kennel, litter])
    else:
        url = reverse("web:worming-doses", args=[kennel, litter, medicine])
    return FactPage(url, "Record what was given")


def weight(kennel: UUID, duty: Mapping[str, Any]) -> FactPage:
    """The weigh-in of the litter, or the weight of the one dog."""
    waiting = [animal for animal in duty["animals"] if animal["state"] == "outstanding"] or duty["animals"]
    litter = duty["asks"].get("litter")
    if litter is None:
        url = reverse("web:dog-weigh", args=[kennel, waiting[0]["uid"]])
    else:
        url = reverse("web:weigh-in", args=[kennel, litter])
        url += f"?pup={waiting[0]['uid']}" if len(waiting) == 1 else ""
    return FactPage(url, "Record the weight" if len(waiting) == 1 else "Record the weights")


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    for kind in ("worming", "vaccination", "treatment-course"):
        record_fact_on(kind, dose)
    for kind in ("weigh-in", "weigh-first", "weigh-again"):
        record_fact_on(kind, weight)
