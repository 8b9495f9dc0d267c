"""What happened to a litter, in order."""

from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from pydantic import BaseModel

from kennel.api import cursors
from kennel.api.base import KennelView
from kennel.api.records import page_limit
from kennel.api.rendering import dumps, json_response
from kennel.records import door, service
from kennel.records.fields import Instant
from litters import timeline
from litters.api.answers import OBJECTS, head_of
from litters.selectors_litters import LitterHead

PURPOSE = "litter-timeline"
LONG_AGO = timedelta(days=400)
# A dam's weights and temperatures belong to the litter from the last weeks of pregnancy to the end of nursing.
DAM_BEFORE, DAM_AFTER = timedelta(days=75), timedelta(days=90)


class TimelineQuery(BaseModel):
    """The interval; without `from` everything, without `to` until now.  `cursor` goes on where a page ended."""

    from_: Instant | None = None
    to: Instant | None = None
    cursor: str | None = None
    limit: int | None = None


class LitterTimeline(KennelView):
    """Births, weights, temperatures, log lines, climate, departures and more of a litter, newest first."""

    summary_of = {"get": "Timeline of a litter"}
    query_input = {
        "type": "object",
        "properties": {
            "from": {"type": "string", "format": "date-time", "description": "Default: everything."},
            "to": {"type": "string", "format": "date-time", "description": "Default: now."},
            "cursor": {"type": "string", "description": "`next` of the page before."},
            "limit": {"type": "integer"},
        },
    }
    slugs = ("validation",)
    answer_schema = {
        "type": "object",
        "required": ["results", "next"],
        "properties": {"results": OBJECTS, "next": {"type": ["string", "null"]}},
    }

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """A page of the timeline."""
        query = request.query_params
        asked = service.check(TimelineQuery, {"from_": query.get("from"), "to": query.get("to")})
        limit = page_limit(query)
        before = None
        if query.get("cursor"):
            at, line_uid = cursors.unseal(PURPOSE, self.here.uid, query["cursor"])
            before = (datetime.fromisoformat(at), UUID(line_uid))
        to_at: datetime = asked.to or self.at + timedelta(hours=1)
        from_at: datetime = asked.from_ or to_at - LONG_AGO * 40
        with door.read(self.here, self.actor, self.at):
            head = head_of(self, uid)
            lines, has_more = timeline.lines_of(
                source_values(head, self.here.id, self.at), from_at, to_at, limit, before
            )
        following = None
        if has_more:
            last = lines[-1]
            following = cursors.seal(PURPOSE, self.here.uid, last.occurred_at.isoformat(), str(last.uid))
        return json_response(dumps({"results": [asdict(line) for line in lines], "next": following}))


def source_values(head: LitterHead, kennel_id: int, at: datetime) -> dict[str, Any]:
    """What the sources of the timeline are asked with."""
    whelped_at = head.whelped_at or at
    return {
        "kennel": kennel_id,
        "litter": head.id,
        "dam": head.dam_id,
        "dam_from": whelped_at - DAM_BEFORE,
        "dam_to": whelped_at + DAM_AFTER,
    }
