"""POST /batch: many creates, updates and deletes in one transaction; a refused item does not refuse the others."""

from dataclasses import dataclass, field
from typing import Annotated, Any, Literal, get_args
from uuid import UUID

from django.http import HttpResponse
from pydantic import BaseModel, ConfigDict, Field, ValidationError, WithJsonSchema

from kennel.api import cursors, problems
from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.people.choices import RANK
from kennel.records import door, service, types
from kennel.records.door import Door
from kennel.records.fields import Uid
from kennel.records.ids import new_uid
from kennel.records.refusals import FieldError, Refusal
from kennel.records.types import RecordType

MOST_ITEMS = 200


class BatchItem(BaseModel):
    """One item of a batch, before its data are checked by the record type."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    op: Literal["create", "update", "delete"]
    type: Annotated[str, Field(max_length=40)]
    uid: Uid | None = None
    if_version: Annotated[int, Field(ge=1, le=2**31 - 1, strict=True)] | Literal["*"] | None = None
    data: dict[str, Any] = Field(default_factory=dict)


_ITEMS_SCHEMA = {
    "type": "array",
    "minItems": 1,
    "maxItems": MOST_ITEMS,
    "items": {
        "description": "`op` (create, update, delete), `type`, `uid`, `if_version` (updates, deletes), `data`."
        " Checked one by one: whatever is wrong with an item, it does not refuse the others."
    },
}


class BatchInput(BaseModel):
    """Body of a batch."""

    model_config = ConfigDict(extra="forbid")

    items: Annotated[list[Any], Field(min_length=1, max_length=MOST_ITEMS), WithJsonSchema(_ITEMS_SCHEMA)]


@dataclass
class _Sorted:
    """Items of one type by what they ask for."""

    creates: list[service.NewRecord] = field(default_factory=list)
    updates: list[service.Change] = field(default_factory=list)
    deletes: list[service.Change] = field(default_factory=list)


class BatchView(KennelView):
    """Everything a device queued, in one request."""

    body_input = BatchInput
    answer_schema = {
        "type": "object",
        "required": ["results", "cursor"],
        "properties": {
            "cursor": {"type": "string"},
            "results": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["index", "uid", "status", "outcome", "version"],
                    "properties": {
                        "index": {"type": "integer"},
                        "uid": {"type": ["string", "null"], "format": "uuid"},
                        "status": {"type": "integer"},
                        "outcome": {"type": "string", "enum": list(get_args(service.Kind))},
                        "version": {"type": ["integer", "null"]},
                        "problem": {"$ref": "#/components/schemas/Problem"},
                    },
                },
            },
        },
    }

    def units(self, request: Any) -> int:
        """One unit for the request and one for each 50 items."""
        items = request.data.get("items") if isinstance(request.data, dict) else None
        return 1 + (len(items) // 50 if isinstance(items, list) else 0)

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Apply the items; the answer has one result per item, in the same order."""
        items = service.check(BatchInput, request.data).items
        outcomes: dict[int, service.Outcome] = {}
        work = self._sort(items, outcomes)
        with door.write(self.here, self.actor, self.at) as opened:
            for record_type in types.every():
                if record_type.name in work and work[record_type.name].creates:
                    self._keep(outcomes, _create(record_type, work[record_type.name].creates, opened))
            for record_type in types.every():
                if record_type.name in work:
                    self._keep(outcomes, service.update(record_type, work[record_type.name].updates, opened))
            for record_type in types.every():
                if record_type.name in work:
                    self._keep(outcomes, service.delete(record_type, work[record_type.name].deletes, opened))
            seq = door.seq_now(opened)
        results = [
            {"index": index, **result_of(outcomes[index], self.actor.request_id)}
            for index in range(len(items))
        ]
        cursor = cursors.seal("feed", self.here.uid, opened.epoch, seq)
        return json_response(dumps({"results": results, "cursor": cursor}))

    @staticmethod
    def _keep(outcomes: dict[int, service.Outcome], more: list[service.Outcome]) -> None:
        outcomes.update({outcome.index: outcome for outcome in more})

    def _sort(self, items: list[Any], outcomes: dict[int, service.Outcome]) -> dict[str, _Sorted]:
        work: dict[str, _Sorted] = {}
        for index, raw in enumerate(items):
            uid = _uid_of(raw)
            try:
                self._place(index, raw, work)
            except ValidationError as error:
                outcomes[index] = service.Outcome(index, uid, "rejected", None, service.refusal_of(error))
            except Refusal as refusal:
                outcomes[index] = service.Outcome(index, uid, "rejected", None, refusal)
        return work

    def _place(self, index: int, raw: Any, work: dict[str, _Sorted]) -> None:
        item = BatchItem.model_validate(raw)
        record_type = types.by_name(item.type)
        if record_type is None or RANK[self.actor.role] < RANK[record_type.read_role]:
            raise Refusal("validation", "", [FieldError("#/type", "unknown", "No record type of that name.")])
        if not self.actor.may(record_type.write_role):
            raise Refusal("forbidden", "Your role in this kennel does not allow that.")
        here = work.setdefault(item.type, _Sorted())
        if item.op == "create":
            try:
                checked = record_type.input.model_validate(item.data)
            except ValidationError as error:
                refusal = service.refusal_of(error)
                refusal.errors = [
                    FieldError(f"#/data{e.pointer[1:]}", e.code, e.detail) for e in refusal.errors
                ]
                raise refusal from None
            here.creates.append(service.NewRecord(index, item.uid or new_uid(), checked))
            return
        if item.uid is None:
            raise Refusal("validation", "", [FieldError("#/uid", "missing", "Say which record.")])
        if item.if_version is None:
            raise Refusal("precondition-required", "Say which version you change (if_version).")
        versions = None if item.if_version == "*" else frozenset({item.if_version})
        change = service.Change(index, item.uid, versions, item.data)
        (here.updates if item.op == "update" else here.deletes).append(change)


def result_of(outcome: service.Outcome, request_id: UUID | None) -> dict[str, Any]:
    """What became of one item, as lists of results show it."""
    status = {"created": 201, "updated": 200, "deleted": 204, "replayed": 200}.get(outcome.outcome)
    result: dict[str, Any] = {
        "uid": outcome.uid,
        "status": status,
        "outcome": outcome.outcome,
        "version": outcome.version,
    }
    if outcome.refusal:
        result["problem"] = problems.document(outcome.refusal, request_id)
        result["status"] = result["problem"]["status"]
    return result


def _uid_of(raw: Any) -> UUID | None:
    try:
        return UUID(str(raw["uid"])) if isinstance(raw, dict) and raw.get("uid") else None
    except ValueError:
        return None


def _create(record_type: RecordType, items: list[service.NewRecord], opened: Door) -> list[service.Outcome]:
    """Create in waves, so that a record may refer to another one of its own type in the same batch."""
    own = [name for name, target in record_type.refs.items() if target == record_type.name]
    if not own:
        return service.create(record_type, items, opened)
    outcomes: list[service.Outcome] = []
    waiting = items
    while waiting:
        pending = {item.uid for item in waiting}
        ready = [
            i for i in waiting if not any(getattr(i.input, n) in pending - {i.uid} for n in own)
        ] or waiting
        outcomes += service.create(record_type, ready, opened)
        chosen = {item.index for item in ready}
        waiting = [item for item in waiting if item.index not in chosen]
    return outcomes
