"""Writes: create, update, delete and restore lists of records of one type.  The API's single endpoints pass one.

Every function runs inside `kennel.records.door.write`.  A refused item does not refuse the others.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, Literal
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.utils import DataError
from pydantic import BaseModel, ValidationError

from kennel.records import store, types
from kennel.records.comparison import alike
from kennel.records.door import CLOCK_TOLERANCE, Door
from kennel.records.fields import RecordInput
from kennel.records.refusals import FieldError, Refusal, invalid
from kennel.records.types import RecordType

AHEAD = timedelta(minutes=10)
RESTORABLE = timedelta(days=30)
Kind = Literal["created", "updated", "deleted", "replayed", "conflict", "rejected", "deferred"]


@dataclass
class Draft:
    """One record on its way: typed input, the columns to write, parents found, the stored row before (updates).

    sent: field names the client sent.  Rules may change `columns`, `warn` and `refuse`.
    """

    index: int
    uid: UUID
    input: Any
    sent: frozenset[str]
    columns: dict[str, Any] = field(default_factory=dict)
    parents: dict[str, store.ParentRow] = field(default_factory=dict)
    before: store.Row | None = None
    refusal: Refusal | None = None

    def warn(self, code: str, text: str) -> None:
        """Keep advice beside the fact; the fact itself stands."""
        kept = [w for w in self.columns.get("warnings", []) if w["code"] != code]
        self.columns["warnings"] = [*kept, {"code": code, "text": text}]

    def refuse(self, refusal: Refusal) -> None:
        """Refuse this item; the first reason given stays."""
        self.refusal = self.refusal or refusal


@dataclass
class Outcome:
    """What became of one item."""

    index: int
    uid: UUID | None
    outcome: Kind
    version: int | None = None
    refusal: Refusal | None = None


@dataclass(frozen=True)
class Saved:
    """A record as it was written: for reactions of other apps."""

    id: int
    uid: UUID
    version: int
    columns: dict[str, Any]
    before: store.Row | None


@dataclass(frozen=True)
class NewRecord:
    """Input of a create: the client's uid (or ours) and the checked input."""

    index: int
    uid: UUID
    input: RecordInput


@dataclass(frozen=True)
class Change:
    """Input of an update: the versions the client accepts (None = any) and the fields it sent."""

    index: int
    uid: UUID
    versions: frozenset[int] | None
    patch: dict[str, Any]


def check(model: type[BaseModel], data: Any) -> Any:
    """Validate data.  Raises Refusal("validation") that names every bad field by pointer."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise refusal_of(error) from None


def refusal_of(error: ValidationError) -> Refusal:
    """The same refusal for every input model: pointer, code and text for each error."""
    errors = []
    for item in error.errors(include_url=False, include_input=False, include_context=False):
        pointer = "".join(f"/{_escape(part)}" for part in item["loc"] if not _is_branch(part))
        errors.append(FieldError(f"#{pointer}", item["type"], item["msg"]))
    return Refusal("validation", "", errors)


def _is_branch(part: int | str) -> bool:
    return isinstance(part, str) and part.startswith(("function-", "constrained-", "lax-or-strict"))


def _escape(part: int | str) -> str:
    return str(part).encode("utf-8", "replace").decode().replace("~", "~0").replace("/", "~1")


def create(record_type: RecordType, items: Sequence[NewRecord], door: Door) -> list[Outcome]:
    """Create records.  A uid that is known already ends as replayed (same content) or conflict (other content)."""
    outcomes: list[Outcome] = []
    drafts = [_draft(record_type, item) for item in items]
    drafts = _resolve(record_type, drafts, door)
    drafts, doubles = _first_of_each_uid(drafts)
    drafts, ended = _end_replays(record_type, drafts, door)
    outcomes += ended
    _refuse_missing_parents(record_type, drafts)
    _check_instants(record_type, drafts, door)
    _stamp(record_type, drafts, door)
    live = [d for d in drafts if d.refusal is None]
    if live and record_type.prepare:
        record_type.prepare(live, door)
    outcomes += _write(record_type, drafts, door, "created", lambda rows: store.insert(record_type, rows))
    if doubles:
        rest, ended = _end_replays(record_type, doubles, door)
        outcomes += ended
        # The first of its uid was refused or waits for a parent: the next one gets its own try and its own answer.
        again = {draft.index for draft in rest}
        if again:
            outcomes += create(record_type, [item for item in items if item.index in again], door)
    return outcomes


def replays(record_type: RecordType, items: Sequence[NewRecord], door: Door) -> list[Outcome]:
    """Outcomes of those items whose uid is known already; reads only."""
    drafts = _resolve(record_type, [_draft(record_type, item) for item in items], door)
    return _end_replays(record_type, drafts, door)[1]


def update(record_type: RecordType, changes: Sequence[Change], door: Door) -> list[Outcome]:
    """Correct records.  A stale version is refused, unless everything asked for already holds."""
    outcomes: list[Outcome] = []
    drafts: list[Draft] = []
    current = store.current_rows(record_type, {c.uid for c in changes}, door.kennel.id)
    for change in changes:
        before = current.get(change.uid)
        if before is None:
            outcomes.append(_refused(change.index, change.uid, Refusal("not-found")))
            continue
        try:
            drafts.append(_merge(record_type, change, before))
        except Refusal as refusal:
            outcomes.append(_refused(change.index, change.uid, refusal))
    drafts = _resolve(record_type, drafts, door)
    _refuse_missing_parents(record_type, drafts)
    standing = []
    versions = {change.index: change.versions for change in changes}
    for draft in drafts:
        before = draft.before or {}
        accepted = versions[draft.index]
        if draft.refusal is None and _already_holds(draft):
            outcomes.append(Outcome(draft.index, draft.uid, "updated", before["version"]))
        elif accepted is not None and before["version"] not in accepted:
            outcomes.append(_refused(draft.index, draft.uid, Refusal("version-mismatch"), before["version"]))
        else:
            standing.append(draft)
    _check_instants(record_type, standing, door)
    _require_reason(record_type, standing)
    live = [d for d in standing if d.refusal is None]
    if live and record_type.prepare:
        record_type.prepare(live, door)
    return outcomes + _write(
        record_type, standing, door, "updated", lambda rows: store.update(record_type, rows, door.kennel.id)
    )


def delete(
    record_type: RecordType, changes: Sequence[Change], door: Door, *, restore: bool = False
) -> list[Outcome]:
    """Mark records deleted (or bring them back within 30 days).  Doing it twice is harmless."""
    outcomes: list[Outcome] = []
    standing: list[Draft] = []
    current = store.current_rows(record_type, {c.uid for c in changes}, door.kennel.id)
    for change in changes:
        before = current.get(change.uid)
        if before is None:
            outcomes.append(_refused(change.index, change.uid, Refusal("not-found")))
        elif (before["deleted_at"] is None) == restore:
            outcomes.append(
                Outcome(change.index, change.uid, "updated" if restore else "deleted", before["version"])
            )
        elif change.versions is not None and before["version"] not in change.versions:
            outcomes.append(
                _refused(change.index, change.uid, Refusal("version-mismatch"), before["version"])
            )
        else:
            columns = {
                "uid": before["uid"],
                "deleted_at": None if restore else door.at.isoformat(),
                "reason": change.patch.get("reason") or before["reason"],
            }
            standing.append(Draft(change.index, change.uid, None, frozenset(), columns, before=before))
    kind: Kind = "updated" if restore else "deleted"
    return outcomes + _write(
        record_type, standing, door, kind, lambda rows: store.update(record_type, rows, door.kennel.id)
    )


def _draft(record_type: RecordType, item: NewRecord) -> Draft:
    dumped = item.input.model_dump(mode="json")
    columns = {
        store.column_of(record_type, name): value
        for name, value in dumped.items()
        if name in record_type.columns and name not in record_type.refs
    }
    return Draft(item.index, item.uid, item.input, frozenset(item.input.model_fields_set), columns)


def _merge(record_type: RecordType, change: Change, before: store.Row) -> Draft:
    """The stored row with the patch laid over it, checked by the same rules as a create."""
    merged: dict[str, Any] = {}
    for name in record_type.input.model_fields:
        if name in record_type.refs:
            merged[name] = before[name]
        elif name in record_type.columns:
            merged[name] = before[store.column_of(record_type, name)]
    unknown = [name for name in change.patch if name not in record_type.input.model_fields]
    if unknown:
        errors = [
            FieldError(f"#/{_escape(n)}", "extra_forbidden", "This field is not known.") for n in unknown
        ]
        raise Refusal("validation", "", errors)
    merged |= change.patch
    for name, value in change.patch.items():
        if value is None and not record_type.input.model_fields[name].is_required():
            merged[name] = record_type.input.model_fields[name].get_default(call_default_factory=True)
    checked = check(
        record_type.input, {k: v for k, v in merged.items() if v is not None or k in change.patch}
    )
    draft = _draft(record_type, NewRecord(change.index, change.uid, checked))
    draft.before = before
    draft.sent = frozenset(change.patch)
    if "warnings" in before:
        draft.columns.setdefault("warnings", before["warnings"])
    return draft


def _resolve(record_type: RecordType, drafts: list[Draft], door: Door) -> list[Draft]:
    """Fill in parents; the columns of references hold internal ids afterwards."""
    if not record_type.refs or not drafts:
        return drafts
    wanted = {
        name: {uid for d in drafts if (uid := getattr(d.input, name)) is not None}
        for name in record_type.refs
    }
    found = store.resolve_parents(record_type, wanted, door.kennel.id)
    for draft in drafts:
        for name in record_type.refs:
            uid = getattr(draft.input, name)
            column = store.column_of(record_type, name)
            draft.columns[column] = None
            if uid is not None and (row := found[name].get(uid)):
                draft.parents[name] = row
                draft.columns[column] = row.id
    return drafts


def _refuse_missing_parents(record_type: RecordType, drafts: Iterable[Draft]) -> None:
    for draft in drafts:
        missing = [
            n for n in record_type.refs if getattr(draft.input, n) is not None and n not in draft.parents
        ]
        if missing:
            errors = [
                FieldError(f"#/{n}", "parent_missing", "This record is not here (yet).") for n in missing
            ]
            draft.refuse(Refusal("parent-missing", "A record this one refers to is not here.", errors))
        deleted = [n for n, row in draft.parents.items() if row.is_deleted]
        if deleted and record_type.is_fact:
            draft.warn("parent_deleted", f"The {deleted[0]} this belongs to was deleted; the entry is kept.")


def _first_of_each_uid(drafts: list[Draft]) -> tuple[list[Draft], list[Draft]]:
    seen: dict[UUID, Draft] = {}
    doubles = [d for d in drafts if seen.setdefault(d.uid, d) is not d]
    return list(seen.values()), doubles


def _end_replays(
    record_type: RecordType, drafts: list[Draft], door: Door
) -> tuple[list[Draft], list[Outcome]]:
    """Take out drafts whose uid is known: replayed when the content sent is the content of the creating entry."""
    known = store.known_uids(record_type, [d.uid for d in drafts], door.kennel.id)
    if not known:
        return drafts, []
    again = [d for d in drafts if d.uid in known]
    names = {d.uid: d.sent & set(record_type.columns) for d in again}
    sent = {
        d.uid: {c: d.columns.get(c) for c in (store.column_of(record_type, n) for n in names[d.uid])}
        for d in again
    }
    same = store.same_as_created(record_type, sent, door.kennel.id)
    erased = store.erased_uids(record_type, list(sent), door.kennel.id)
    outcomes = []
    for draft in again:
        if draft.uid in erased:
            refusal = Refusal("erased", "This was erased on request; drop your copy.")
            outcomes.append(Outcome(draft.index, draft.uid, "rejected", known[draft.uid], refusal))
        elif draft.uid in same:
            outcomes.append(Outcome(draft.index, draft.uid, "replayed", known[draft.uid]))
        else:
            refusal = Refusal("uid-conflict", "This uid is known here with other content.")
            outcomes.append(Outcome(draft.index, draft.uid, "conflict", known[draft.uid], refusal))
    return [d for d in drafts if d.uid not in known], outcomes


def _check_instants(record_type: RecordType, drafts: Iterable[Draft], door: Door) -> None:
    if not record_type.is_fact:
        return
    skew = door.actor.skew_s
    skewed = skew is not None and abs(skew) > CLOCK_TOLERANCE.total_seconds()
    ahead = door.at + AHEAD + (timedelta(seconds=skew) if skewed and skew else timedelta())
    for draft in drafts:
        if draft.input.occurred_at > ahead and (draft.before is None or "occurred_at" in draft.sent):
            draft.refuse(invalid("occurred_at", "future", "This lies in the future by the server's clock."))
        if draft.before is None:
            draft.columns["clock_skew_s"] = skew if skewed else None
        else:
            draft.columns["clock_skew_s"] = draft.before["clock_skew_s"]


def _stamp(record_type: RecordType, drafts: Iterable[Draft], door: Door) -> None:
    for draft in drafts:
        draft.columns |= {
            "uid": draft.uid,
            "kennel_id": door.kennel.id,
            "recorded_at": door.at,
            "recorded_by_id": door.actor.carer_id,
            "recorded_device_id": door.actor.device_id,
        }


def _require_reason(record_type: RecordType, drafts: Iterable[Draft]) -> None:
    if not record_type.is_fact:
        return
    for draft in drafts:
        if not draft.input.reason or ("reason" not in draft.sent):
            draft.refuse(invalid("reason", "required", "Say why this entry is corrected."))


def _already_holds(draft: Draft) -> bool:
    before = draft.before or {}
    probe = {c: v for c, v in draft.columns.items() if c in before and c not in {"warnings", "reason"}}
    return all(alike(before[c], v) for c, v in probe.items()) and before["deleted_at"] is None


def _write(
    record_type: RecordType,
    drafts: list[Draft],
    door: Door,
    kind: Kind,
    statement: Callable[[Sequence[store.Row]], dict[UUID, tuple[int, int]]],
) -> list[Outcome]:
    outcomes = [_refused(d.index, d.uid, d.refusal) for d in drafts if d.refusal]
    live = [d for d in drafts if d.refusal is None]
    if not live:
        return outcomes
    for draft in live:
        draft.columns.setdefault("uid", draft.uid)
    written = _all_or_each(record_type, live, statement)
    saved = []
    for draft in live:
        if draft.refusal:
            outcomes.append(_refused(draft.index, draft.uid, draft.refusal))
            continue
        identifier, version = written[draft.uid]
        outcomes.append(Outcome(draft.index, draft.uid, kind, version))
        saved.append(Saved(identifier, draft.uid, version, draft.columns, draft.before))
    if saved:
        for hook in types.reactions(record_type.name):
            hook(saved, door)
    return outcomes


def _all_or_each(
    record_type: RecordType,
    drafts: list[Draft],
    statement: Callable[[Sequence[store.Row]], dict[UUID, tuple[int, int]]],
) -> dict[UUID, tuple[int, int]]:
    """One statement for all; when the database refuses it, one by one under a savepoint to find the culprits."""
    try:
        with transaction.atomic():
            return statement([d.columns for d in drafts])
    except (IntegrityError, DataError) as error:
        if len(drafts) == 1:
            drafts[0].refuse(_refusal_of_database(record_type, error))
            return {}
    written: dict[UUID, tuple[int, int]] = {}
    for draft in drafts:
        written |= _all_or_each(record_type, [draft], statement)
    return written


def _refusal_of_database(record_type: RecordType, error: Exception) -> Refusal:
    name = getattr(getattr(error.__cause__, "diag", None), "constraint_name", None)
    if name and name.endswith("_here"):
        return Refusal("parent-missing", "A record this one refers to is not in this kennel.")
    for constraint in record_type.model._meta.constraints:
        if constraint.name == name:
            code = constraint.violation_error_code or "constraint"
            return Refusal(
                "validation", "", [FieldError("#", code, str(constraint.get_violation_error_message()))]
            )
    return Refusal("validation", "", [FieldError("#", "constraint", "These values do not fit together.")])


def _refused(index: int, uid: UUID, refusal: Refusal | None, version: int | None = None) -> Outcome:
    assert refusal is not None
    kind: Kind = "deferred" if refusal.slug == "parent-missing" else "rejected"
    if refusal.slug in {"version-mismatch", "uid-conflict"}:
        kind = "conflict"
    return Outcome(index, uid, kind, version, refusal)
