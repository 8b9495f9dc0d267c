"""Mark records deleted, or bring them back."""

from collections.abc import Sequence

from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import Refusal
from kennel.records.service.items import Change, Draft, Kind, Outcome, refused
from kennel.records.service.writing import write
from kennel.records.types import RecordType


def delete(
    record_type: RecordType, changes: Sequence[Change], door: Door, *, restore: bool = False
) -> list[Outcome]:
    """Mark records deleted (or bring them back).  Doing it twice is harmless."""
    outcomes: list[Outcome] = []
    standing: list[Draft] = []
    current = store.current_rows(record_type, {c.uid for c in changes}, door.kennel.id)
    for change in changes:
        before = current.get(change.uid)
        if before is None:
            outcomes.append(refused(change.index, change.uid, Refusal("not-found")))
        elif (before["deleted_at"] is None) == restore:
            outcomes.append(
                Outcome(change.index, change.uid, "updated" if restore else "deleted", before["version"])
            )
        elif change.versions is not None and before["version"] not in change.versions:
            outcomes.append(refused(change.index, change.uid, Refusal("version-mismatch"), before["version"]))
        else:
            columns = {
                "uid": before["uid"],
                "deleted_at": None if restore else door.at.isoformat(),
                "reason": change.patch.get("reason") or before["reason"],
            }
            standing.append(Draft(change.index, change.uid, None, frozenset(), columns, before=before))
    kind: Kind = "updated" if restore else "deleted"
    return outcomes + write(
        record_type, standing, door, kind, lambda rows: store.update(record_type, rows, door.kennel.id)
    )
