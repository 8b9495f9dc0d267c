"""Change feed, snapshot and journal of a kennel."""

from typing import Annotated, Any

from django.http import HttpResponse
from pydantic import BaseModel, Field

from kennel.api import cursors
from kennel.api.base import KennelView
from kennel.api.preconditions import is_fresh
from kennel.api.records import page_limit
from kennel.api.rendering import dumps, json_response
from kennel.people.shapes import SHAPES
from kennel.records import door, feed, history, types
from kennel.records.refusals import Refusal


class PageQuery(BaseModel):
    """Paging of feed and snapshot."""

    limit: Annotated[int, Field(ge=1, le=1000)] = 500


class ChangesQuery(PageQuery):
    """Where to go on."""

    cursor: str | None = None


class SnapshotQuery(PageQuery):
    """Which page."""

    page: str | None = None


class JournalQuery(BaseModel):
    """Paging of the journal."""

    limit: Annotated[int, Field(ge=1, le=200)] = 50
    cursor: str | None = None


def _object(**properties: Any) -> dict[str, Any]:
    return {"type": "object", "required": sorted(properties), "properties": properties}


_TEXT = {"type": "string"}
_CHANGE = _object(
    seq={"type": "integer"},
    type=_TEXT,
    uid={"type": "string", "format": "uuid"},
    op={"type": "string", "enum": ["upsert", "delete"]},
    version={"type": ["integer", "null"]},
    recorded_at={"type": "string", "format": "date-time"},
    data={"type": ["object", "null"]},
)


class ChangesView(KennelView):
    """What changed since a cursor, in commit order."""

    query_input = ChangesQuery
    slugs = ("cursor-expired",)
    answer_schema = _object(
        changes={"type": "array", "items": _CHANGE}, cursor=_TEXT, has_more={"type": "boolean"}
    )
    also_status = {"GET": (304,)}

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of changes; poll with If-None-Match, a 304 costs one primary-key read."""
        limit = page_limit(request.query_params, 500, 1000)
        text = request.query_params.get("cursor")
        told = cursors.unseal("feed", self.here.uid, text) if text else None
        with door.read(self.here, self.actor, self.at) as opened:
            tag = f'"k-{opened.epoch}-{opened.seq_before}"'
            if told and (told[0] != opened.epoch or told[1] > opened.seq_before):
                raise Refusal("cursor-expired", "Take a snapshot, then go on from its cursor.")
            if (told is None or told[1] == opened.seq_before) and is_fresh(
                request.META.get("HTTP_IF_NONE_MATCH"), tag
            ):
                return HttpResponse(status=304, headers={"ETag": tag})
            page = feed.changes(opened, told[1] if told else 0, limit)
        cursor = cursors.seal("feed", self.here.uid, opened.epoch, page.seq)
        more = "true" if page.has_more else "false"
        body = f'{{"changes":[{",".join(page.entries)}],"cursor":"{cursor}","has_more":{more}}}'
        return json_response(body, etag=tag, store=False)


class SnapshotView(KennelView):
    """All records, page by page, with the feed cursor taken before the first page."""

    query_input = SnapshotQuery
    slugs = ("cursor-expired",)
    answer_schema = _object(
        records={"type": "array", "items": _object(type=_TEXT, data={"type": "object"})},
        next={"type": ["string", "null"]},
        cursor=_TEXT,
    )

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page; apply a row only when its version is newer than yours."""
        limit = page_limit(request.query_params, 500, 1000)
        text = request.query_params.get("page")
        told = cursors.unseal("snapshot", self.here.uid, text) if text else None
        with door.read(self.here, self.actor, self.at) as opened:
            epoch, seq = (told[0], told[1]) if told else (opened.epoch, opened.seq_before)
            if epoch != opened.epoch:
                raise Refusal("cursor-expired", "Begin the snapshot again.")
            page = feed.snapshot(opened, (told[2], told[3]) if told else None, limit)
        following = "null"
        if page.next_place:
            following = '"' + cursors.seal("snapshot", self.here.uid, epoch, seq, *page.next_place) + '"'
        cursor = cursors.seal("feed", self.here.uid, epoch, seq)
        body = f'{{"records":[{",".join(page.entries)}],"next":{following},"cursor":"{cursor}"}}'
        return json_response(body, store=False)


class JournalView(KennelView):
    """Who changed what, newest first."""

    query_input = JournalQuery
    answer_schema = _object(
        results={"type": "array", "items": {"$ref": "#/components/schemas/JournalEntry"}},
        next={"type": ["string", "null"]},
    )

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of the journal."""
        limit = page_limit(request.query_params)
        text = request.query_params.get("cursor")
        before = cursors.unseal("journal", self.here.uid, text)[0] if text else None
        hidden = [t.name for t in types.every() if not self.actor.may(t.read_role)]
        hidden += [name for name, shape in SHAPES.items() if not self.actor.may(shape.read_role)]
        with door.read(self.here, self.actor, self.at):
            entries = history.of_kennel(self.here.id, before_seq=before, limit=limit + 1, hidden_types=hidden)
        following = None
        if len(entries) > limit:
            entries = entries[:limit]
            following = cursors.seal("journal", self.here.uid, entries[-1]["seq"])
        return json_response(dumps({"results": entries, "next": following}), store=False)
