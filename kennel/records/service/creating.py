"""Create records: replays end first, then rules, then one statement for the whole list."""

from collections.abc import Iterable, Sequence

from kennel.records import store
from kennel.records.door import Door
from kennel.records.service.drafting import check_instants, draft_of, look_up, refuse_missing_parents
from kennel.records.service.items import Draft, NewRecord, Outcome
from kennel.records.service.replays import end_replays, first_of_each_uid
from kennel.records.service.writing import write
from kennel.records.types import RecordType


def create(record_type: RecordType, items: Sequence[NewRecord], door: Door) -> list[Outcome]:
    """Create records.  A uid that is known already ends as replayed (same content) or conflict (other content)."""
    outcomes: list[Outcome] = []
    drafts = [draft_of(record_type, item) for item in items]
    known = look_up(record_type, drafts, door, with_known=True)
    drafts, doubles = first_of_each_uid(drafts)
    drafts, ended = end_replays(record_type, drafts, known, door)
    outcomes += ended
    refuse_missing_parents(record_type, drafts)
    check_instants(record_type, drafts, door)
    _stamp(record_type, drafts, door)
    live = [d for d in drafts if d.refusal is None]
    if live and record_type.prepare:
        record_type.prepare(live, door)
    outcomes += write(record_type, drafts, door, "created", lambda rows: store.insert(record_type, rows))
    if doubles:
        known = store.known_uids(record_type, [draft.uid for draft in doubles], door.kennel.id)
        rest, ended = end_replays(record_type, doubles, known, door)
        outcomes += ended
        # The first of its uid was refused or waits for a parent: the next one gets its own try and its own answer.
        again = {draft.index for draft in rest}
        if again:
            outcomes += create(record_type, [item for item in items if item.index in again], door)
    return outcomes


def _stamp(record_type: RecordType, drafts: Iterable[Draft], door: Door) -> None:
    for draft in drafts:
        draft.columns |= {
            "uid": draft.uid,
            "kennel_id": door.kennel.id,
            "recorded_at": door.at,
            "recorded_by_id": door.actor.carer_id,
            "recorded_device_id": door.actor.device_id,
        }
