"""What computed reads share: finding what is asked about, and saying how old an input is."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.records.refusals import Refusal
from litters.selectors_litters import LitterHead, Measured, litter_heads

TEXT = {"type": "string"}
TEXTS = {"type": "array", "items": TEXT}
OBJECTS = {"type": "array", "items": {"type": "object"}}


def answer(required: tuple[str, ...], **properties: Any) -> dict[str, Any]:
    """JSON schema of a computed read: what it always holds, and the shape of what is known by name."""
    common = {"method": TEXT, "source": TEXT, "caution": TEXT, "inputs": OBJECTS}
    return {"type": "object", "required": list(required), "properties": common | properties}


def head_of(view: KennelView, uid: str) -> LitterHead:
    """The litter of the path, inside an open door.  Raises Refusal("not-found")."""
    wanted = parse_uid(uid)
    found = litter_heads([wanted], view.here.id)
    if wanted not in found:
        raise Refusal("not-found")
    return found[wanted]


def age_h(at: datetime, since: datetime | None) -> float | None:
    """Hours since something was measured, to 0.1; None when it never was."""
    return None if since is None else round((at - since).total_seconds() / 3600, 1)


def fact(
    name: str, value: Any, unit: str = "", *, since: datetime | None = None, at: datetime
) -> dict[str, Any]:
    """One input of an answer: what, how much, how old."""
    return {"name": name, "value": value, "unit": unit, "measured_at": since, "age_h": age_h(at, since)}


def weight_facts(weights: Sequence[Measured], at: datetime) -> list[dict[str, Any]]:
    """How many weights of a pup an answer stands on, and the newest of them (the last one) with its age."""
    newest = weights[-1] if weights else None
    return [
        fact("weights of the pup", len(weights), at=at),
        fact(
            "newest weight",
            newest.value if newest else None,
            "g",
            since=newest.at if newest else None,
            at=at,
        ),
    ]


def uid_text(uid: UUID | None) -> str | None:
    """A uid as text; None stays None."""
    return None if uid is None else str(uid)
