"""Correct records: the patch is laid over the stored row and checked by the same rules as a create."""

from collections.abc import Iterable, Sequence
from typing import Any

from kennel.records import store
from kennel.records.comparison import alike
from kennel.records.door import Door
from kennel.records.refusals import FieldError, Refusal, invalid
from kennel.records.service.checks import check, escape
from kennel.records.service.drafting import check_instants, draft_of, look_up, refuse_missing_parents
from kennel.records.service.items import Change, Draft, NewRecord, Outcome, refused
from kennel.records.service.writing import write
from kennel.records.types import RecordType


def update(record_type: RecordType, changes: Sequence[Change], door: Door) -> list[Outcome]:
    """Correct records.  A stale version is refused, unless everything asked for already holds."""
    outcomes: list[Outcome] = []
    drafts: list[Draft] = []
    current = store.current_rows(record_type, {c.uid for c in changes}, door.kennel.id)
    for change in changes:
        before = current.get(change.uid)
        if before is None:
            outcomes.append(refused(change.index, change.uid, Refusal("not-found")))
            continue
        if not change.patch:  # an empty merge patch (RFC 7396) asks for nothing: all of it holds already
            outcomes.append(Outcome(change.index, change.uid, "updated", before["version"]))
            continue
        try:
            drafts.append(_merge(record_type, change, before))
        except Refusal as refusal:
            outcomes.append(refused(change.index, change.uid, refusal))
    look_up(record_type, drafts, door, with_known=False)
    refuse_missing_parents(record_type, drafts)
    standing = []
    versions = {change.index: change.versions for change in changes}
    for draft in drafts:
        before = draft.before or {}
        accepted = versions[draft.index]
        if draft.refusal is None and _already_holds(draft):
            outcomes.append(Outcome(draft.index, draft.uid, "updated", before["version"]))
        elif accepted is not None and before["version"] not in accepted:
            outcomes.append(refused(draft.index, draft.uid, Refusal("version-mismatch"), before["version"]))
        else:
            standing.append(draft)
    check_instants(record_type, standing, door)
    _require_reason(record_type, standing)
    live = [d for d in standing if d.refusal is None]
    if live and record_type.prepare:
        record_type.prepare(live, door)
    return outcomes + write(
        record_type, standing, door, "updated", lambda rows: store.update(record_type, rows, door.kennel.id)
    )


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
            FieldError(f"#/{escape(n)}", "extra_forbidden", "This field is not known.") for n in unknown
        ]
        raise Refusal("validation", "", errors)
    merged |= change.patch
    for name, value in change.patch.items():
        if value is None and not record_type.input.model_fields[name].is_required():
            merged[name] = record_type.input.model_fields[name].get_default(call_default_factory=True)
    checked = check(
        record_type.input, {k: v for k, v in merged.items() if v is not None or k in change.patch}
    )
    draft = draft_of(record_type, NewRecord(change.index, change.uid, checked))
    draft.before = before
    draft.sent = frozenset(change.patch)
    if "warnings" in before:
        draft.columns.setdefault("warnings", before["warnings"])
    return draft


def _already_holds(draft: Draft) -> bool:
    before = draft.before or {}
    probe = {c: v for c, v in draft.columns.items() if c in before and c not in {"warnings", "reason"}}
    return all(alike(before[c], v) for c, v in probe.items()) and before["deleted_at"] is None


def _require_reason(record_type: RecordType, drafts: Iterable[Draft]) -> None:
    if not record_type.is_fact:
        return
    for draft in drafts:
        if not draft.input.reason or ("reason" not in draft.sent):
            draft.refuse(invalid("reason", "required", "Say why this entry is corrected."))
