"""Rules of routines, what follows when one changes, and keeping the routines of a plan as it wants them."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties import kinds
from kennel.duties.inputs import RoutineInput
from kennel.duties.services import planning
from kennel.records import service, store, types
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.refusals import FieldError, Refusal
from kennel.records.service import Draft, Saved
from kennel.records.types import RecordType


def routines_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Refuse a routine about something that is not in this kennel."""
    wanted = [
        (place, draft.input.subject_type, draft.input.subject_uid)
        for place, draft in enumerate(drafts)
        if draft.input.subject_uid is not None
    ]
    present = subjects_here({(name, uid) for _, name, uid in wanted}, door)
    for place, name, uid in wanted:
        if (name, uid) not in present:
            errors = [FieldError("#/subject_uid", "parent_missing", "This record is not here (yet).")]
            drafts[place].refuse(Refusal("parent-missing", "The subject is not here.", errors))


def subjects_here(asked: set[tuple[str, UUID]], door: Door) -> dict[tuple[str, UUID], str]:
    """Names of those subjects that are in this kennel and not deleted; one statement per record type."""
    by_type: dict[str, list[UUID]] = {}
    for name, uid in asked:
        by_type.setdefault(name, []).append(uid)
    found: dict[tuple[str, UUID], str] = {}
    with connection.cursor() as cursor:
        for name, uids in by_type.items():
            subject = kinds.subject_type(name)
            if subject is None:
                continue
            cursor.execute(
                f'SELECT t.uid, {subject.name_sql} FROM "{subject.record_type.table}" t '  # noqa: S608 - registered SQL
                "WHERE t.kennel_id = %s AND t.uid = ANY(%s::uuid[]) AND t.deleted_at IS NULL",
                [door.kennel.id, store.array(uids)],
            )
            found |= {(name, uid): text or name for uid, text in cursor.fetchall()}
    return found


def routines_follow(saved: Sequence[Saved], door: Door) -> None:
    """Plan routines that were made, changed, ended or brought back; nothing is made for the past."""
    ids = [s.id for s in saved]
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE duties_planmark SET planned_until = %s WHERE kennel_id = %s AND routine_id = ANY(%s)",
            [door.at, door.kennel.id, ids],
        )
    planning.replan(ids, door)


def routine_type() -> RecordType:
    """The record type of routines."""
    found = types.by_name("routine")
    assert found is not None  # registered by this app itself
    return found


def routines_set(
    source_type: str, source_uid: UUID, wanted: Mapping[str, Mapping[str, Any]], door: Door
) -> list[UUID]:
    """Make the routines of one source (a feeding plan, a worming plan) those wanted, by their keys.

    wanted: `source_key` -> the fields of a routine, as the API takes them, without `source_*`.  Routines of
    the source with other keys end (their duties ahead are called off); equal ones are left alone.  Gives the
    uids in the order of `wanted`.  Raises Refusal when a routine is not acceptable.
    """
    stored = _of_source(source_type, source_uid, door)
    checked = {
        key: service.check(
            RoutineInput,
            {**fields, "source_type": source_type, "source_uid": str(source_uid), "source_key": key},
        )
        for key, fields in wanted.items()
    }
    new = {key: new_uid() for key in checked if key not in stored}
    outcomes = service.create(
        routine_type(),
        [service.NewRecord(place, uid, checked[key]) for place, (key, uid) in enumerate(new.items())],
        door,
    )
    outcomes += service.update(
        routine_type(),
        [
            service.Change(place, stored[key], None, checked[key].model_dump(mode="json", exclude={"reason"}))
            for place, key in enumerate(k for k in checked if k in stored)
        ],
        door,
    )
    outcomes += service.delete(
        routine_type(),
        [
            service.Change(place, uid, None, {})
            for place, (key, uid) in enumerate(stored.items())
            if key not in checked
        ],
        door,
    )
    for outcome in outcomes:
        if outcome.refusal is not None:
            raise outcome.refusal
    return [new.get(key) or stored[key] for key in checked]


def _of_source(source_type: str, source_uid: UUID, door: Door) -> dict[str, UUID]:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT source_key, uid FROM duties_routine
            WHERE kennel_id = %s AND source_type = %s AND source_uid = %s AND deleted_at IS NULL
            ORDER BY id LIMIT 1000
            """,
            [door.kennel.id, source_type, source_uid],
        )
        return dict(cursor.fetchall())
