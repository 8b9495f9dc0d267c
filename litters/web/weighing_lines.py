"""The list of an animal's weights: each with its change, its author, its warnings and every earlier value."""

from datetime import datetime
from typing import Any
from uuid import UUID

from kennel.api import cursors
from kennel.records import store
from kennel.records.door import KennelHere
from litters.web import reads

PURPOSE = "page:weighings"


def weighing_lines(here: KennelHere, column: str, uid: UUID, cursor: str) -> tuple[list[dict[str, Any]], str]:
    """(lines newest first, cursor of the older ones or "").  Three queries, inside an open door.

    Each line is a weighing with `change` (the weighing before it, None at the end) and `corrections`.
    Raises Refusal("malformed") for a cursor that is not one of ours.
    """
    before = None
    if cursor:
        occurred_at, identifier = cursors.unseal(PURPOSE, here.uid, cursor)
        before = (datetime.fromisoformat(occurred_at), identifier)
    page = reads.weighings_of(here.id, column, uid, before)
    lines: list[dict[str, Any]] = [store.load(text) for text in page.rows]
    corrected = reads.corrections(here.id, [line["uid"] for line in lines if line["version"] > 1])
    for place, line in enumerate(lines):
        line["corrections"] = corrected.get(line["uid"], [])
        line["previous"] = lines[place + 1] if place + 1 < len(lines) else None
    if page.next_key is None:
        return lines, ""
    return lines, cursors.seal(PURPOSE, here.uid, *page.next_key)
