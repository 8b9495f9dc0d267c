"""Views made from a record type: list, create, read, correct, delete, restore, history."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from pydantic import TypeAdapter, ValidationError

from kennel.api import cursors
from kennel.api.base import KennelView
from kennel.api.filters import conditions
from kennel.api.preconditions import accepted_versions, etag, is_fresh, parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.people.choices import Role
from kennel.records import door, history, service, store
from kennel.records.fields import Uid
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.records.types import RecordType

_uid = TypeAdapter(Uid)
DEFAULT_LIMIT, MOST = 50, 200


def page_limit(query: Any, default: int = DEFAULT_LIMIT, most: int = MOST) -> int:
    """`limit` of the query.  Raises Refusal("malformed") outside 1..most."""
    text = query.get("limit", str(default))
    if not (text.isascii() and text.isdigit() and len(text) <= 4 and 1 <= int(text) <= most):
        raise Refusal("malformed", f"limit is a whole number from 1 to {most}.")
    return int(text)


def take_uid(data: dict[str, Any]) -> tuple[UUID, dict[str, Any]]:
    """The client's uid (or a new one) and the rest of the input."""
    rest = dict(data)
    given = rest.pop("uid", None)
    if given is None:
        return new_uid(), rest
    try:
        return _uid.validate_python(given), rest
    except ValidationError as error:
        refusal = service.refusal_of(error)
        for item in refusal.errors:
            object.__setattr__(item, "pointer", "#/uid")
        raise refusal from None


class RecordView(KennelView):
    """Base of the views of one record type."""

    record_type: RecordType = None  # type: ignore[assignment]  # given by as_view

    def least_role(self, reading: bool) -> Role:
        """Roles come from the record type."""
        return self.record_type.read_role if reading else self.record_type.write_role

    def shown(self, uid: UUID) -> store.Shown:
        """The record as it is now.  Raises Refusal("not-found")."""
        rows = store.show(self.record_type, self.here.id, [uid])
        if uid not in rows:
            raise Refusal("not-found")
        return rows[uid]

    def answer(self, uid: UUID, row: store.Shown, status: int = 200) -> HttpResponse:
        """One record as an answer; uid and version alone with `Prefer: return=minimal`."""
        body: bytes | str = row.text
        if self.request.META.get("HTTP_PREFER", "").strip() == "return=minimal":
            body = dumps({"uid": uid, "version": row.version})
        return json_response(body, status=status, etag=etag(row.version), store=not self.record_type.no_store)

    def settle(self, outcome: service.Outcome) -> service.Outcome:
        """Raise the refusal of an outcome, with the current row where the client needs it to merge."""
        if outcome.refusal is None:
            return outcome
        if outcome.refusal.slug == "version-mismatch":
            assert outcome.uid is not None
            row = store.show(self.record_type, self.here.id, [outcome.uid])[outcome.uid]
            outcome.refusal.extra["current"] = store.load(row.text)
        raise outcome.refusal


class RecordList(RecordView):
    """The records of one type."""

    def may_exceed(self, request: Any) -> bool:
        """A create is looked up first: a replay is answered whatever the quota says."""
        return bool(request.method == "POST")

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page, newest first."""
        query = request.query_params
        limit = page_limit(query)
        where, values = conditions(self.record_type, query)
        purpose = f"list:{self.record_type.name}"
        after = None
        if text := query.get("cursor"):
            key, identifier = cursors.unseal(purpose, self.here.uid, text)
            after = (key, identifier)
        with door.read(self.here, self.actor, self.at) as opened:
            tag = f'"k-{opened.epoch}-{opened.seq_before}"'
            if is_fresh(request.META.get("HTTP_IF_NONE_MATCH"), tag):
                return HttpResponse(status=304, headers={"ETag": tag})
            page = store.show_page(
                self.record_type, self.here.id, limit=limit, after=after, where=where, values=values
            )
        body = f'{{"results":[{",".join(page.rows)}]'
        link = ""
        if page.next_key:
            cursor = cursors.seal(purpose, self.here.uid, *page.next_key)
            body += f',"next":"{cursor}"}}'
            rest = query.copy()
            rest["cursor"] = cursor
            link = f'<{request.path}?{rest.urlencode()}>; rel="next"'
        else:
            body += ',"next":null}'
        answer = json_response(body, etag=tag, store=not self.record_type.no_store)
        if link:
            answer["Link"] = link
        return answer

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Create a record; sending the same again changes nothing."""
        uid, data = take_uid(request.data)
        checked = service.check(self.record_type.input, data)
        item = service.NewRecord(0, uid, checked)
        if self.quota and self.quota.is_exceeded:
            with door.read(self.here, self.actor, self.at) as opened:
                ended = service.replays(self.record_type, [item], opened)
            if not ended:
                raise self.over_quota()
        with door.write(self.here, self.actor, self.at) as opened:
            outcome = self.settle(service.create(self.record_type, [item], opened)[0])
            row = self.shown(uid)
        replayed = outcome.outcome == "replayed"
        answer = self.answer(uid, row, 200 if replayed else 201)
        if replayed:
            answer["Replayed"] = "true"
        else:
            answer["Location"] = f"{request.path}/{uid}"
        return answer


class RecordItem(RecordView):
    """One record."""

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The record as it is now, deleted ones too (marked so)."""
        with door.read(self.here, self.actor, self.at):
            row = self.shown(parse_uid(uid))
        if is_fresh(request.META.get("HTTP_IF_NONE_MATCH"), etag(row.version)):
            return HttpResponse(status=304, headers={"ETag": etag(row.version)})
        return self.answer(parse_uid(uid), row)

    def patch(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Correct the record: a JSON Merge Patch with If-Match, facts with a reason."""
        identifier = parse_uid(uid)
        data = request.data
        with door.write(self.here, self.actor, self.at) as opened:
            self._exists(identifier)
            versions = accepted_versions(request.META.get("HTTP_IF_MATCH"))
            change = service.Change(0, identifier, versions, data)
            self.settle(service.update(self.record_type, [change], opened)[0])
            row = self.shown(identifier)
        return self.answer(identifier, row)

    def delete(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Mark the record deleted; it can be restored for 30 days."""
        identifier = parse_uid(uid)
        with door.write(self.here, self.actor, self.at) as opened:
            self._exists(identifier)
            versions = accepted_versions(request.META.get("HTTP_IF_MATCH"))
            outcome = self.settle(
                service.delete(self.record_type, [service.Change(0, identifier, versions, {})], opened)[0]
            )
        return HttpResponse(status=204, headers={"ETag": etag(outcome.version or 0)})

    def _exists(self, uid: UUID) -> None:
        if not store.known_uids(self.record_type, [uid], self.here.id):
            raise Refusal("not-found")


class RecordRestore(RecordView):
    """Bringing a deleted record back."""

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Undo a deletion within 30 days."""
        identifier = parse_uid(uid)
        with door.write(self.here, self.actor, self.at) as opened:
            self.shown(identifier)
            versions = accepted_versions(request.META.get("HTTP_IF_MATCH"))
            change = service.Change(0, identifier, versions, {})
            self.settle(service.delete(self.record_type, [change], opened, restore=True)[0])
            row = self.shown(identifier)
        return self.answer(identifier, row)


class RecordHistory(RecordView):
    """What happened to one record, oldest first."""

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Every version: who, when, which fields, old and new."""
        identifier = parse_uid(uid)
        with door.read(self.here, self.actor, self.at):
            self.shown(identifier)
            entries = history.of_record(self.record_type, identifier, self.here.id)
        return json_response(dumps({"results": entries}), store=not self.record_type.no_store)


def views_of(record_type: RecordType) -> Sequence[tuple[str, type[RecordView]]]:
    """(path below the kennel, view class) of everything a record type offers."""
    return [
        (record_type.plural, RecordList),
        (f"{record_type.plural}/<str:uid>", RecordItem),
        (f"{record_type.plural}/<str:uid>/restore", RecordRestore),
        (f"{record_type.plural}/<str:uid>/history", RecordHistory),
    ]
