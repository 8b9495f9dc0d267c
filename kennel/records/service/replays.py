"""What was sent before: a known uid ends here, as replayed (same content) or as a conflict (other content)."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import Refusal
from kennel.records.service.drafting import draft_of, look_up
from kennel.records.service.items import Draft, NewRecord, Outcome
from kennel.records.types import RecordType


def replays(record_type: RecordType, items: Sequence[NewRecord], door: Door) -> list[Outcome]:
    """Outcomes of those items whose uid is known already; reads only."""
    drafts = [draft_of(record_type, item) for item in items]
    known = look_up(record_type, drafts, door, with_known=True)
    return end_replays(record_type, drafts, known, door)[1]


def end_replays(
    record_type: RecordType, drafts: list[Draft], known: Mapping[UUID, int], door: Door
) -> tuple[list[Draft], list[Outcome]]:
    """Take out drafts whose uid is known: replayed when the content sent is the content of the creating entry."""
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


def first_of_each_uid(drafts: list[Draft]) -> tuple[list[Draft], list[Draft]]:
    """The first draft of each uid, and the ones that repeat a uid of the same list."""
    seen: dict[UUID, Draft] = {}
    doubles = [d for d in drafts if seen.setdefault(d.uid, d) is not d]
    return list(seen.values()), doubles
