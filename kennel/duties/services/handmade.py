"""Duties made by hand, and what follows when a duty is changed, deleted or brought back."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from kennel.duties import kinds
from kennel.duties.services import outcomes, rows
from kennel.duties.services.routines import subjects_here
from kennel.records.door import Door
from kennel.records.refusals import FieldError, Refusal, invalid
from kennel.records.service import Draft, Saved


def duties_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in what a duty made by hand leaves open; refuse changes of a planned one and unknown subjects."""
    asked = {(one.type, one.uid) for d in drafts if d.before is None for one in d.input.subjects}
    present = subjects_here(asked, door)
    for draft in drafts:
        if draft.before is not None:
            _prepare_change(draft, door)
            continue
        missing = [one for one in draft.input.subjects if (one.type, one.uid) not in present]
        if missing:
            errors = [FieldError("#/subjects", "parent_missing", "An animal is not here (yet).")]
            draft.refuse(Refusal("parent-missing", "An animal of this duty is not here.", errors))
        draft.columns["outstanding"] = len(draft.input.subjects) or 1
        _settle_times(draft)


def _settle_times(draft: Draft) -> None:
    kind = kinds.by_name(draft.input.kind)
    if draft.input.useful_until is None and kind is not None:
        draft.columns["useful_until"] = draft.input.due_at + kind.useful_for


def _prepare_change(draft: Draft, door: Door) -> None:
    before = draft.before or {}
    if before["occurrence"]:
        draft.refuse(
            invalid("due_at", "planned", "This duty follows a routine; change the routine, or put it off.")
        )
    if "subjects" in draft.sent or "kind" in draft.sent:
        draft.refuse(invalid("subjects", "fixed", "Kind and animals of a duty stay; make another one."))
    moved = "due_at" in draft.sent and draft.input.due_at != datetime.fromisoformat(before["due_at"])
    if moved and "useful_until" not in draft.sent:
        length = datetime.fromisoformat(before["useful_until"]) - datetime.fromisoformat(before["due_at"])
        draft.columns["useful_until"] = draft.input.due_at + length
    # Put ahead again: it is released again at its new time.
    ahead = moved and draft.input.due_at > door.at
    draft.columns["released_at"] = None if ahead else before["released_at"]


def duties_follow(saved: Sequence[Saved], door: Door) -> None:
    """Name animals of new duties; call off messages of deleted or moved ones, bring back restored ones."""
    _name_animals([s for s in saved if s.before is None and not s.columns.get("occurrence")], door)
    off = [s.id for s in saved if s.before is not None and _is_off(s)]
    outcomes.cancel_reminders(off, door)
    back = [s.id for s in saved if s.before and "deleted_at" in s.columns and s.columns["deleted_at"] is None]
    outcomes.revive_reminders(back, door)


def _is_off(saved: Saved) -> bool:
    before = saved.before or {}
    if saved.columns.get("deleted_at"):
        return True
    return (
        "released_at" in saved.columns
        and not saved.columns["released_at"]
        and bool(before.get("released_at"))
    )


def _name_animals(saved: Sequence[Saved], door: Door) -> None:
    asked = {(one["type"], UUID(one["uid"])) for s in saved for one in s.columns.get("subjects", [])}
    names = subjects_here(asked, door)
    whole = kinds.whole_kennel(door)
    made = []
    for one in saved:
        subjects = [(s["type"], UUID(s["uid"])) for s in one.columns.get("subjects", [])]
        for place, key in enumerate(subjects or [whole.key]):
            name = names.get(key, whole.name if key == whole.key else key[0])
            made.append(
                {
                    "duty_id": one.id,
                    "place": place,
                    "subject_type": key[0],
                    "subject_uid": key[1],
                    "name": name[:120],
                    "asks": {},
                }
            )
    rows.animals_write(made, door)
