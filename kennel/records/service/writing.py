"""The statement itself: one for all drafts; what the database refuses is found one by one under a savepoint."""

from collections.abc import Callable, Sequence
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.utils import DataError

from kennel.records import store, types
from kennel.records.door import Door
from kennel.records.refusals import FieldError, Refusal
from kennel.records.service.items import Draft, Kind, Outcome, Saved, refused
from kennel.records.types import RecordType


def write(
    record_type: RecordType,
    drafts: list[Draft],
    door: Door,
    kind: Kind,
    statement: Callable[[Sequence[store.Row]], dict[UUID, tuple[int, int]]],
) -> list[Outcome]:
    """Write what was not refused, let other apps react, and say what became of each draft."""
    outcomes = [refused(d.index, d.uid, d.refusal) for d in drafts if d.refusal]
    live = [d for d in drafts if d.refusal is None]
    if not live:
        return outcomes
    for draft in live:
        draft.columns.setdefault("uid", draft.uid)
    written = _all_or_each(record_type, live, statement)
    saved = []
    for draft in live:
        if draft.refusal:
            outcomes.append(refused(draft.index, draft.uid, draft.refusal))
            continue
        identifier, version = written[draft.uid]
        outcomes.append(Outcome(draft.index, draft.uid, kind, version))
        saved.append(Saved(identifier, draft.uid, version, draft.columns, draft.before, draft.parents))
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
    # Left open, it ends with the transaction: releasing it would only cost every write another question.
    savepoint = transaction.savepoint()
    try:
        return statement([d.columns for d in drafts])
    except (IntegrityError, DataError) as error:
        transaction.savepoint_rollback(savepoint)
        if len(drafts) == 1:
            drafts[0].refuse(_refusal_of_database(record_type, error))
            return {}
    written: dict[UUID, tuple[int, int]] = {}
    for draft in drafts:
        try:
            with transaction.atomic():
                written |= statement([draft.columns])
        except (IntegrityError, DataError) as error:
            draft.refuse(_refusal_of_database(record_type, error))
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
