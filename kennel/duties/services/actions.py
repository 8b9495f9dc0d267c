"""Taps on duties: what is said before they are stored, and what follows from them in the same transaction."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import connection

from kennel.duties import kinds
from kennel.duties.choices import ActionKind, AnimalState, DutyState
from kennel.duties.domain import taking
from kennel.duties.services import completing, deferring, rows
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft, Saved

SETTLES = {
    ActionKind.SKIP: AnimalState.SKIPPED,
    ActionKind.DEFER: AnimalState.DEFERRED,
    ActionKind.DONE: AnimalState.DONE,
}
MOST_TAPS = 2000


@dataclass(frozen=True)
class _Known:
    """A duty and the taps on it, with the names of who made them."""

    state: str
    kind: str
    closed_at: str | None
    taps: list[taking.Tap]
    names: dict[UUID, str]


def actions_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Tell a second taker who is on it, refuse a late undo, warn where a tap changes nothing."""
    for draft in drafts:
        if draft.before is not None and draft.sent - {"note", "reason"}:
            draft.refuse(invalid("action", "fixed", "A tap is not changed; undo it or make another one."))
    new = [d for d in drafts if d.before is None and "duty" in d.parents]
    known = _known({d.parents["duty"].id for d in new}, door)
    for draft in new:
        known[draft.parents["duty"].id].taps.append(_tap_of(draft, door))
    for draft in new:
        _look(draft, known[draft.parents["duty"].id], door)


def _tap_of(draft: Draft, door: Door) -> taking.Tap:
    return taking.Tap(
        uid=draft.uid,
        action=draft.input.action,
        carer_id=door.actor.carer_id,
        device_id=door.actor.device_id,
        occurred_at=draft.input.occurred_at,
        recorded_at=door.at,
        undoes=draft.input.undoes,
        take_over=draft.input.take_over,
    )


def _look(draft: Draft, duty: _Known, door: Door) -> None:
    tap = next(t for t in duty.taps if t.uid == draft.uid)
    if tap.action == ActionKind.UNDO:
        made = next((t for t in duty.taps if t.uid == tap.undoes and t.action != ActionKind.UNDO), None)
        if made is None:
            draft.refuse(invalid("undoes", "unknown", "There is no such tap on this duty."))
        elif not taking.may_undo(made, tap):
            text = "A tap can be taken back for 10 seconds, by whoever made it."
            draft.refuse(invalid("undoes", "too_late", text))
        return
    if tap.action == ActionKind.DONE:
        kind = kinds.by_name(duty.kind)
        if kind is not None and kind.done_by:
            facts = " or ".join(kind.done_by)
            draft.refuse(invalid("action", "record_it", f"Record what was done ({facts}); that closes it."))
    if tap.action in (ActionKind.TAKE, ActionKind.RELEASE):
        _look_at_holder(draft, tap, duty, door)
    if tap.action != ActionKind.SEEN and duty.state in (DutyState.CLOSED, DutyState.CANCELLED):
        at = f" at {_clock(duty.closed_at, door)}" if duty.closed_at else ""
        draft.warn("closed_already", f"This was closed already{at}.")


def _look_at_holder(draft: Draft, tap: taking.Tap, duty: _Known, door: Door) -> None:
    hold = taking.holder(duty.taps, before=tap.uid)
    if tap.action == ActionKind.RELEASE:
        if hold is None or not tap.is_of(hold.tap):
            draft.warn("not_yours", "You were not on it; nothing was given back.")
        return
    if hold is None or not (taking.is_told(hold, tap) or (tap.take_over and not tap.is_of(hold.tap))):
        return
    draft.columns["held_by_id"] = hold.tap.carer_id
    draft.columns["held_since"] = hold.since
    name = duty.names.get(hold.tap.uid) or door.actor.name or "Somebody"
    since = _clock(hold.since.isoformat(), door)
    if tap.take_over:
        draft.warn("taken_over", f"{name} had taken this at {since}.")
    else:
        draft.warn("already_taken", f"{name} took this at {since} and is on it.")


def _clock(instant: str | None, door: Door) -> str:
    return datetime.fromisoformat(instant or "").astimezone(ZoneInfo(door.kennel.zone)).strftime("%H:%M")


def _known(duty_ids: Iterable[int], door: Door) -> dict[int, _Known]:
    ids = sorted(set(duty_ids))
    if not ids:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('id', d.id, 'state', d.state, 'kind', d.kind,
                'closed_at', d.closed_at)::text
            FROM duties_duty d WHERE d.kennel_id = %s AND d.id = ANY(%s)
            """,
            [door.kennel.id, ids],
        )
        duties = [store.load(row[0]) for row in cursor.fetchall()]
        cursor.execute(
            """
            SELECT a.duty_id, a.uid, a.action, a.recorded_by_id, a.recorded_device_id, a.occurred_at,
                a.recorded_at,
                   a.undoes, a.take_over, COALESCE(c.name, v.name)
            FROM duties_dutyaction a LEFT JOIN people_carer c ON c.id = a.recorded_by_id
            LEFT JOIN people_device v ON v.id = a.recorded_device_id
            WHERE a.kennel_id = %s AND a.duty_id = ANY(%s) AND a.deleted_at IS NULL
            ORDER BY a.id DESC LIMIT %s
            """,
            [door.kennel.id, ids, MOST_TAPS],
        )
        taps = cursor.fetchall()
    known = {d["id"]: _Known(d["state"], d["kind"], d["closed_at"], [], {}) for d in duties}
    for duty_id, *values, name in taps:
        tap = taking.Tap(*values)
        known[duty_id].taps.append(tap)
        known[duty_id].names[tap.uid] = name
    return known


_ACTIONS = """
    SELECT json_build_object('id', a.id, 'uid', a.uid, 'duty_id', a.duty_id, 'action', a.action,
        'animals', a.animals, 'until', a.until, 'undoes', a.undoes, 'note', a.note, 'at', a.occurred_at,
        'carer_id', a.recorded_by_id, 'is_deleted', a.deleted_at IS NOT NULL)::text
    FROM duties_dutyaction a WHERE a.kennel_id = %s AND a.id = ANY(%s)
    ORDER BY a.recorded_at, a.occurred_at, a.id
"""


def actions_follow(saved: Sequence[Saved], door: Door) -> None:
    """What follows from taps that were stored, deleted or restored: holders, outcomes, receipts."""
    turned = [s for s in saved if s.before is None or "deleted_at" in s.columns]
    if not turned:
        return
    with connection.cursor() as cursor:
        cursor.execute(_ACTIONS, [door.kennel.id, [s.id for s in turned]])
        actions = [store.load(row[0]) for row in cursor.fetchall()]
    back = {UUID(a["undoes"]) for a in actions if a["undoes"] and not a["is_deleted"]}
    back |= {UUID(a["uid"]) for a in actions if a["is_deleted"]}
    _take_back(back, door)
    standing = [a for a in actions if not a["is_deleted"] and UUID(a["uid"]) not in back]
    _settle([a for a in standing if a["action"] in SETTLES], door)
    _mark_seen([a for a in standing if a["action"] == ActionKind.SEEN], door)
    _hold({a["duty_id"] for a in actions}, door)


def _take_back(uids: set[UUID], door: Door) -> None:
    if not uids:
        return
    completing.uncomplete("duty-action", sorted(uids), door)
    deferring.call_off(sorted(uids), door)


def _settle(actions: Sequence[Mapping[str, Any]], door: Door) -> None:
    """Give the outstanding animals each action is about its outcome; the first action on an animal counts."""
    if not actions:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT n.place, a.id, a.duty_id, a.subject_type, a.subject_uid, a.name, a.asks::text
            FROM json_to_recordset(%s) AS n (place int, duty_id bigint, animals jsonb)
            JOIN duties_dutyanimal a ON a.kennel_id = %s AND a.duty_id = n.duty_id AND a.state = 'outstanding'
                 AND (n.animals = '[]' OR n.animals ? a.subject_uid::text)
            ORDER BY n.place, a.place, a.id
            """,
            [
                store.dump(
                    [
                        {"place": place, "duty_id": a["duty_id"], "animals": a["animals"]}
                        for place, a in enumerate(actions)
                    ]
                ),
                door.kennel.id,
            ],
        )
        found = cursor.fetchall()
    first: dict[int, tuple[Any, ...]] = {}
    for row in found:
        first.setdefault(row[1], row)
    deferred: dict[int, list[kinds.Animal]] = {}
    by_state: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for place, animal_id, duty_id, subject_type, subject_uid, name, asks in first.values():
        action = actions[place]
        settled = {
            "id": animal_id,
            "at": action["at"],
            "uid": action["uid"],
            "reason": action["note"][:500],
            "until": action["until"],
        }
        by_state.setdefault(SETTLES[action["action"]], []).append((duty_id, settled))
        if action["action"] == ActionKind.DEFER:
            animal = kinds.Animal(subject_type, subject_uid, name, store.load(asks))
            deferred.setdefault(place, []).append(animal)
    for state, pairs in by_state.items():
        completing.settle([s for _, s in pairs], state, door, [duty_id for duty_id, _ in pairs])
    deferring.put_off([(actions[place], animals) for place, animals in deferred.items()], door)


def _mark_seen(actions: Sequence[Mapping[str, Any]], door: Door) -> None:
    if not actions:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder r SET seen_at = n.at
            FROM json_to_recordset(%s) AS n (duty_id bigint, carer_id bigint, at timestamptz)
            WHERE r.kennel_id = %s AND r.duty_id = n.duty_id AND r.carer_id = n.carer_id AND r.seen_at IS NULL
              AND r.state = 'accepted'
            """,
            [store.dump(list(actions)), door.kennel.id],
        )


def _hold(duty_ids: set[int], door: Door) -> None:
    """Let `taken_*` of duties follow from all their taps."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT d.id, d.uid, d.taken_by_id, d.taken_device_id, d.taken_at, d.taken_until
            FROM duties_duty d WHERE d.kennel_id = %s AND d.id = ANY(%s)
            """,
            [door.kennel.id, sorted(duty_ids)],
        )
        stored = cursor.fetchall()
    known = _known(duty_ids, door)
    changes, before = [], {}
    for duty_id, uid, *old in stored:
        hold = taking.holder(known[duty_id].taps)
        new = [hold.tap.carer_id, hold.tap.device_id, hold.since, hold.until] if hold else [None] * 4
        if new != old:
            names = ("taken_by_id", "taken_device_id", "taken_at", "taken_until")
            changes.append({"uid": uid, **dict(zip(names, new, strict=True))})
            before[uid] = dict(zip(names, old, strict=True))
    rows.duties_update(changes, before, door)
