"""From checked input to a draft: columns, parents in the same kennel, and instants that are not in the future."""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from uuid import UUID

from kennel.records import store
from kennel.records.door import CLOCK_TOLERANCE, Door
from kennel.records.refusals import FieldError, Refusal, invalid
from kennel.records.service.items import Draft, NewRecord
from kennel.records.types import RecordType

AHEAD = timedelta(minutes=10)


def draft_of(record_type: RecordType, item: NewRecord) -> Draft:
    """A draft with the columns of the checked input; references are filled in by `look_up`."""
    dumped = record_type.serializer.to_python(item.input, mode="json")
    columns = {column: dumped[name] for name, column in record_type.own_columns}
    return Draft(item.index, item.uid, item.input, frozenset(item.input.model_fields_set), columns)


def look_up(
    record_type: RecordType, drafts: Sequence[Draft], door: Door, *, with_known: bool
) -> dict[UUID, int]:
    """Fill in parents (columns of references hold internal ids then).  Gives the versions of known uids, if asked."""
    wanted = {
        name: {uid for d in drafts if (uid := getattr(d.input, name)) is not None}
        for name in record_type.refs
    }
    uids = [draft.uid for draft in drafts] if with_known else []
    found = store.look_up(record_type, wanted, uids, door.kennel.id)
    for name, rows in found.parents.items():
        column = store.column_of(record_type, name)
        for draft in drafts:
            uid = getattr(draft.input, name)
            row = None if uid is None else rows.get(uid)
            draft.columns[column] = None if row is None else row.id
            if row is not None:
                draft.parents[name] = row
    return found.known


def refuse_missing_parents(record_type: RecordType, drafts: Iterable[Draft]) -> None:
    """Refuse drafts whose parents are not here; a fact about a deleted parent stands, with a warning."""
    for draft in drafts:
        missing = [
            n for n in record_type.refs if n not in draft.parents and getattr(draft.input, n) is not None
        ]
        if missing:
            errors = [
                FieldError(f"#/{n}", "parent_missing", "This record is not here (yet).") for n in missing
            ]
            draft.refuse(Refusal("parent-missing", "A record this one refers to is not here.", errors))
        for name, row in draft.parents.items():
            if row.is_deleted and record_type.is_fact:
                draft.warn("parent_deleted", f"The {name} this belongs to was deleted; the entry is kept.")
                break


def check_instants(record_type: RecordType, drafts: Iterable[Draft], door: Door) -> None:
    """Refuse facts from the future, and keep how far the clock of the device was off."""
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
