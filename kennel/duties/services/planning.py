"""Planning: routines become duties 72 hours ahead, and what lies ahead and is unsent follows the facts.

Runs inside the write door, for one kennel.  The planner itself is pure (`domain/planner.py`); here its answer
is filled with what each occasion asks for (`DutyKind.plan`) and stored, in a fixed number of statements.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.clock.recurrence_text import rule_from_json
from kennel.duties import kinds
from kennel.duties.domain import planner
from kennel.duties.services import contents, outcomes, rows
from kennel.records import store
from kennel.records.door import Door
from kennel.records.ids import new_uid

AHEAD = planner.AHEAD
AGAIN_AFTER = timedelta(hours=1)  # planned routines are looked at again when this much of the 72 h is used up
AT_ONCE = 50

# Routines that a tick has to plan: `r` a routine, `m` its mark (or none); parameter: the end of what must be
# planned.
NEEDS_PLANNING = """
    r.deleted_at IS NULL AND (m.is_dirty OR (r.is_active AND (m.routine_id IS NULL OR m.planned_until < %s)
        AND (r.ends_at IS NULL OR r.ends_at > COALESCE(m.planned_until, '-infinity'))
        AND (r.until_age_days IS NULL
             OR r.day_zero_on + r.until_age_days + 2 > COALESCE(m.planned_until, '-infinity'))))
"""

_ROUTINES = """
    SELECT json_build_object(
        'id', r.id, 'uid', r.uid, 'kind', r.kind, 'title', r.title, 'rule', r.rule,
            'subject_type', r.subject_type,
        'subject_uid', r.subject_uid, 'settings', r.settings, 'level', r.level,
            'useful_for_s', r.useful_for_s,
        'escalate_after_s', r.escalate_after_s, 'starts_at', r.starts_at, 'ends_at', r.ends_at,
        'day_zero_on', r.day_zero_on, 'from_age_days', r.from_age_days, 'until_age_days', r.until_age_days,
        'is_active', r.is_active AND r.deleted_at IS NULL, 'instructions', r.instructions,
        'source_type', r.source_type, 'source_uid', r.source_uid, 'source_key', r.source_key,
        'planned_until', m.planned_until,
        'last_done_at', GREATEST(m.last_done_at, (
            SELECT COALESCE(d.closed_at, d.due_at) FROM duties_duty d
            WHERE d.kennel_id = r.kennel_id AND d.routine_id = r.id AND d.deleted_at IS NULL
              AND d.state IN ('closed', 'missed') ORDER BY d.due_at DESC, d.id DESC LIMIT 1)),
        'waits', EXISTS (
            SELECT FROM duties_duty d WHERE d.kennel_id = r.kennel_id AND d.routine_id = r.id
              AND d.state = 'open' AND d.deleted_at IS NULL AND d.occurrence NOT LIKE 'defer=%%'))::text
    FROM duties_routine r LEFT JOIN duties_planmark m ON m.kennel_id = r.kennel_id AND m.routine_id = r.id
    WHERE r.kennel_id = %s AND r.id = ANY(%s)
"""

_EXISTING = """
    SELECT json_build_object(
        'id', d.id, 'uid', d.uid, 'routine_id', d.routine_id, 'occurrence', d.occurrence, 'due_at', d.due_at,
        'kind', d.kind, 'title', d.title, 'level', d.level, 'useful_until', d.useful_until,
        'escalate_after_s', d.escalate_after_s, 'text', d.text, 'asks', d.asks, 'cautions', d.cautions,
        'subjects', d.subjects, 'state', d.state, 'outstanding', d.outstanding,
        'can_change', d.state IN ('open', 'cancelled') AND d.released_at IS NULL AND d.deleted_at IS NULL
                      AND d.due_at > %s,
        'animals', (SELECT json_agg(json_build_object('subject_type', a.subject_type,
            'subject_uid', a.subject_uid,
                                                      'name', a.name, 'asks', a.asks) ORDER BY a.place, a.id)
                    FROM duties_dutyanimal a WHERE a.kennel_id = d.kennel_id AND a.duty_id = d.id))::text
    FROM duties_duty d WHERE d.kennel_id = %s AND d.routine_id = ANY(%s) AND d.due_at >= %s
    ORDER BY d.due_at, d.id
"""


@dataclass(frozen=True)
class _Routine:
    """A routine with its own figures, as stored."""

    here: kinds.RoutineHere
    schedule: planner.Schedule
    defaults: contents.Defaults


def replan(routine_ids: Sequence[int], door: Door) -> None:
    """Plan these routines now: make what is missing, refresh what lies ahead unsent, call off the rest.

    Duties whose messages went out, and those with an outcome, are never touched.
    """
    if not routine_ids:
        return
    routines = _load(routine_ids, door)
    existing = _existing(list(routines), door)
    planned = planner.plan(
        [one.schedule for one in routines.values()],
        [
            planner.Existing(e["routine_id"], e["occurrence"], _instant(e["due_at"]), e["can_change"])
            for e in existing.values()
        ],
        door.at,
        door.kennel.zone,
    )
    wanted = [*planned.create, *planned.keep]
    filled = contents.fill(
        [_occasion(w, routines[w.routine_id].here, existing.get((w.routine_id, w.key))) for w in wanted],
        {identifier: one.defaults for identifier, one in routines.items()},
        door,
    )
    known_kinds = {r for r, one in routines.items() if kinds.by_name(one.here.kind) is not None}
    _create(
        [(w, f) for w, f in zip(wanted, filled, strict=True) if f and (w.routine_id, w.key) not in existing],
        door,
    )
    _refresh(
        [
            (existing[w.routine_id, w.key], f)
            for w, f in zip(wanted, filled, strict=True)
            if (w.routine_id, w.key) in existing and w.routine_id in known_kinds
        ],
        [existing[c.routine_id, c.key] for c in planned.cancel],
        door,
    )
    _mark(list(routines), door)


def replan_later(
    door: Door, *, subjects: Iterable[tuple[str, UUID]] = (), sources: Iterable[tuple[str, UUID]] = ()
) -> int:
    """Ask the next tick (within 15 s) to plan routines about these subjects or from these sources again.

    Gives the number of routines.  Cheap enough for the reaction of every weighing.
    """
    return _soil("subject", list(subjects), door) + _soil("source", list(sources), door)


def replan_later_sql(relation: str, side: str = "subject") -> str:
    """The statement of `replan_later`, for a statement of somebody else's: relation is SQL, called n, of type and uid.

    Its parameters are those of the relation, then the kennel.
    """
    return f"""
        UPDATE duties_planmark m SET is_dirty = true FROM duties_routine r, {relation}
        WHERE m.kennel_id = %s AND r.kennel_id = m.kennel_id AND r.id = m.routine_id AND r.deleted_at IS NULL
          AND r.{side}_type = n.type AND r.{side}_uid = n.uid
    """  # noqa: S608 - both are words of ours


def _soil(side: str, pairs: Sequence[tuple[str, UUID]], door: Door) -> int:
    if not pairs:
        return 0
    asked = store.dump([{"type": name, "uid": uid} for name, uid in pairs])
    with connection.cursor() as cursor:
        relation = "json_to_recordset(%s) AS n (type text, uid uuid)"
        cursor.execute(replan_later_sql(relation, side), [asked, door.kennel.id])
        return int(cursor.rowcount)


def routines_of(
    door: Door,
    *,
    subjects: Iterable[tuple[str, UUID]] = (),
    sources: Iterable[tuple[str, UUID]] = (),
    of_kinds: Sequence[str] | None = None,
) -> list[int]:
    """Internal ids of the routines about these subjects or made from these records, for `replan`.

    of_kinds: only those of these kinds of duty; None: of any.
    """
    asked = [
        *({"side": "subject", "type": name, "uid": uid} for name, uid in subjects),
        *({"side": "source", "type": name, "uid": uid} for name, uid in sources),
    ]
    if not asked:
        return []
    only = None if of_kinds is None else list(of_kinds)
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT r.id FROM duties_routine r,
                json_to_recordset(%s) AS n (side text, type text, uid uuid)
            WHERE r.kennel_id = %s AND r.deleted_at IS NULL
              AND ((n.side = 'subject' AND r.subject_type = n.type AND r.subject_uid = n.uid)
                OR (n.side = 'source' AND r.source_type = n.type AND r.source_uid = n.uid))
              AND (%s::text[] IS NULL OR r.kind = ANY(%s::text[]))
            ORDER BY r.id
            """,
            [store.dump(asked), door.kennel.id, only, only],
        )
        return [row[0] for row in cursor.fetchall()]


def plan_due(door: Door) -> int:
    """Plan at most AT_ONCE routines of this kennel that need it; gives how many that were."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT r.id FROM duties_routine r
            LEFT JOIN duties_planmark m ON m.kennel_id = r.kennel_id AND m.routine_id = r.id
            WHERE r.kennel_id = %s AND {NEEDS_PLANNING}
            ORDER BY m.planned_until NULLS FIRST, r.id LIMIT %s
            """,  # noqa: S608 - a constant of this module
            [door.kennel.id, door.at + AHEAD - AGAIN_AFTER, AT_ONCE],
        )
        found = [row[0] for row in cursor.fetchall()]
    replan(found, door)
    return len(found)


def _load(routine_ids: Sequence[int], door: Door) -> dict[int, _Routine]:
    with connection.cursor() as cursor:
        cursor.execute(_ROUTINES, [door.kennel.id, list(routine_ids)])
        loaded = [store.load(row[0]) for row in cursor.fetchall()]
    return {row["id"]: _routine(row, door) for row in loaded}


def _routine(row: Mapping[str, Any], door: Door) -> _Routine:
    here = kinds.RoutineHere(
        id=row["id"],
        uid=UUID(row["uid"]),
        kind=row["kind"],
        title=row["title"],
        subject_type=row["subject_type"],
        subject_uid=UUID(row["subject_uid"]) if row["subject_uid"] else None,
        settings=row["settings"],
        instructions=row["instructions"],
        source_type=row["source_type"],
        source_uid=UUID(row["source_uid"]) if row["source_uid"] else None,
        source_key=row["source_key"],
    )
    starts_at, ends_at = planner.bounds(
        _instant_or_none(row["starts_at"]),
        _instant_or_none(row["ends_at"]),
        datetime.fromisoformat(row["day_zero_on"]).date() if row["day_zero_on"] else None,
        row["from_age_days"],
        row["until_age_days"],
        door.kennel.zone,
    )
    schedule = planner.Schedule(
        routine_id=row["id"],
        rule=rule_from_json(row["rule"]),
        starts_at=starts_at,
        ends_at=ends_at,
        planned_until=_instant_or_none(row["planned_until"]),
        last_done_at=_instant_or_none(row["last_done_at"]),
        waits=row["waits"],
        is_active=row["is_active"],
    )
    defaults = contents.Defaults(row["title"], row["level"], row["useful_for_s"], row["escalate_after_s"])
    return _Routine(here, schedule, defaults)


def _existing(routine_ids: Sequence[int], door: Door) -> dict[tuple[int, str], dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(
            _EXISTING,
            [door.at, door.kennel.id, list(routine_ids), door.at - planner.LOOK_BACK - timedelta(days=2)],
        )
        loaded = [store.load(row[0]) for row in cursor.fetchall()]
    return {(row["routine_id"], row["occurrence"]): row for row in loaded}


def _occasion(
    wanted: planner.Wanted, routine: kinds.RoutineHere, stored: Mapping[str, Any] | None
) -> kinds.Occasion:
    only = None
    if stored is not None and wanted.key.startswith(planner.DEFERRED):
        only = tuple(
            kinds.Animal(a["subject_type"], UUID(a["subject_uid"]), a["name"], a["asks"])
            for a in stored["animals"] or ()
        )
    return kinds.Occasion(routine, wanted.due_at, wanted.key, only)


def _create(wanted: Sequence[tuple[planner.Wanted, contents.Filled]], door: Door) -> None:
    made = [
        {
            "uid": new_uid(),
            "routine_id": w.routine_id,
            "occurrence": w.key,
            "state": "open",
            "outstanding": len(filled.animals),
            **filled.columns,
        }
        for w, filled in wanted
    ]
    ids = rows.duties_insert(made, door)
    animals = [
        animal
        for row, (_, filled) in zip(made, wanted, strict=True)
        for animal in filled.animal_rows(ids[row["uid"]])
    ]
    rows.animals_write(animals, door)


def _refresh(
    kept: Sequence[tuple[Mapping[str, Any], contents.Filled | None]],
    dropped: Sequence[Mapping[str, Any]],
    door: Door,
) -> None:
    """Write what changed on duties ahead; an occasion that asks for nothing any more is called off."""
    changed: list[dict[str, Any]] = []
    animals: list[dict[str, Any]] = []
    touched: list[int] = []
    columns = [*contents.COLUMNS, "state"]
    before = {UUID(e["uid"]): {c: e[c] for c in columns} for e in [*dropped, *(e for e, _ in kept)]}
    for stored in [*dropped, *(e for e, filled in kept if filled is None)]:
        if stored["state"] != "cancelled":
            changed.append(
                {"uid": UUID(stored["uid"]), **{c: stored[c] for c in columns}, "state": "cancelled"}
            )
    for stored, filled in kept:
        if filled is None or (stored["state"] == "open" and filled.is_like(stored)):
            continue
        changed.append({"uid": UUID(stored["uid"]), **filled.columns, "state": "open"})
        animals += filled.animal_rows(stored["id"])
        touched.append(stored["id"])
    rows.duties_update(changed, before, door)
    rows.animals_write(animals, door)
    outcomes.refresh(touched, door)


def _mark(routine_ids: Sequence[int], door: Door) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO duties_planmark (kennel_id, routine_id, planned_until, is_dirty)
            SELECT %s, n, %s, false FROM unnest(%s::bigint[]) n
            ON CONFLICT (routine_id) DO UPDATE SET planned_until = excluded.planned_until, is_dirty = false
            """,
            [door.kennel.id, door.at + AHEAD, list(routine_ids)],
        )


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _instant_or_none(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
