"""What follows from facts: weighings and treatments settle duties, courses go on, small pups are offered again."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health import selectors
from health.domain.dosing import Outcome
from health.domain.repeat_doses import COURSE_BREAK
from health.doses import DoseAsked, doses_at
from kennel.duties.services import completing, planning, routines
from kennel.duties.services.completing import Done
from kennel.records import service, store, types
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.service import Saved

# A dose offered again becomes due at once; the next release finds it.
AT_ONCE = timedelta(minutes=1)
# The kinds of this app; others close theirs by themselves.
WEIGHED = ("weigh-in", "weigh-first", "weigh-again")
TREATED = ("worming", "vaccination", "treatment-course")


@dataclass(frozen=True)
class _Fact:
    """A treatment as it stands: whose, when, whether it counts."""

    uid: UUID
    type: str
    animal: UUID
    litter: UUID | None
    at: datetime
    counts: bool
    row: Mapping[str, Any]


def weighings_follow(saved: Sequence[Saved], door: Door) -> None:
    """Weighings settle weighing duties, and offer a medicine again to a pup that passes the label's minimum."""
    _uncomplete("weighing", saved, door)
    # A weighing that was removed, or is most likely told twice, settles nothing.
    weighed = [
        _weighed(one)
        for one in saved
        if one.value("deleted_at") is None and one.value("possible_duplicate_of") is None
    ]
    weighed.sort(key=lambda done: done.at)
    completing.complete("weighing", weighed, door)
    offer_again([(done.subject_type, done.subject_uid) for done in weighed], door)


def _weighed(saved: Saved) -> Done:
    pup = saved.parent_uid("pup")
    animal = pup or saved.parent_uid("dog")
    assert animal is not None  # the database keeps no weighing of nobody
    at = datetime.fromisoformat(saved.value("occurred_at"))
    return Done(saved.uid, "dog" if pup is None else "pup", animal, at, kinds=WEIGHED)


def treatments_follow(saved: Sequence[Saved], door: Door) -> None:
    """Treatments settle the animals' part of duties, in the same transaction, and begin courses."""
    _uncomplete("treatment", saved, door)
    facts = _treatments(saved, door)
    counted = [fact for fact in facts if fact.counts]
    completing.complete(
        "treatment",
        [Done(f.uid, f.type, f.animal, f.at, kinds=TREATED, match=_match(f)) for f in counted],
        door,
    )
    _begin_courses([f for f in counted if f.row["course_days"] > 1], door)
    _plan_again(facts, door)


def _match(fact: _Fact) -> dict[str, Any]:
    """A treatment that names its plan stands for that plan's duties, otherwise for those of its medicine."""
    return {"plan": fact.row["plan"]} if fact.row["plan"] else {"medicine": fact.row["medicine"]}


def presence_follows(saved: Sequence[Saved], door: Door) -> None:
    """Pups were born, left, came back or died: what lies ahead names those that are here."""
    pups = {s.columns.get("pup_id") or (s.before or {}).get("pup_id") for s in saved}
    pups |= {s.id for s in saved if "litter_id" in s.columns or "litter_id" in (s.before or {})}
    pups.discard(None)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT DISTINCT l.uid FROM litters_pup p JOIN litters_litter l"
            " ON l.kennel_id = p.kennel_id AND l.id = p.litter_id WHERE p.kennel_id = %s AND p.id = ANY(%s)",
            [door.kennel.id, sorted(pup for pup in pups if pup is not None)],
        )
        litters = [uid for (uid,) in cursor.fetchall()]
    planning.replan_later(door, subjects=[("litter", uid) for uid in litters])


def _uncomplete(type_name: str, saved: Sequence[Saved], door: Door) -> None:
    completing.uncomplete(type_name, [one.uid for one in saved if one.before is not None], door)


def _treatments(saved: Sequence[Saved], door: Door) -> list[_Fact]:
    """The treatments written, as they stand now.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('uid', t.uid, 'pup', p.uid, 'dog', d.uid, 'litter', l.uid,
                'at', t.occurred_at, 'medicine', m.uid, 'course_days', m.course_days,
                'interval_h', m.dose_interval_h, 'plan', n.uid,
                'counts', t.deleted_at IS NULL AND t.possible_duplicate_of IS NULL)::text
            FROM health_treatment t
            JOIN health_medicine m ON m.kennel_id = t.kennel_id AND m.id = t.medicine_id
            LEFT JOIN health_treatmentplan n ON n.kennel_id = t.kennel_id AND n.id = t.plan_id
            LEFT JOIN litters_pup p ON p.kennel_id = t.kennel_id AND p.id = t.pup_id
            LEFT JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            LEFT JOIN litters_dog d ON d.kennel_id = t.kennel_id AND d.id = t.dog_id
            WHERE t.kennel_id = %s AND t.id = ANY(%s) ORDER BY t.occurred_at, t.id
            """,
            [door.kennel.id, [one.id for one in saved]],
        )
        rows = [store.load(text) for (text,) in cursor.fetchall()]
    return [
        _Fact(
            UUID(row["uid"]),
            "pup" if row["pup"] else "dog",
            UUID(row["pup"] or row["dog"]),
            UUID(row["litter"]) if row["litter"] else None,
            datetime.fromisoformat(row["at"]),
            row["counts"],
            row,
        )
        for row in rows
    ]


def _plan_again(facts: Iterable[_Fact], door: Door) -> None:
    subjects = {("litter", fact.litter) for fact in facts if fact.litter is not None}
    subjects |= {("dog", fact.animal) for fact in facts if fact.type == "dog"}
    planning.replan_later(door, subjects=sorted(subjects))


def offer_again(animals: Sequence[tuple[str, UUID]], door: Door) -> int:
    """Offer a dose again to animals that were under the label's minimum and pass it now; how many.

    Their part of the duty moves to a duty of its own that is due at once; from then on each runs on its own
    dates.  Duties that were not told yet simply follow the facts.
    """
    waiting = _waiting(animals, door)
    if not waiting:
        return 0
    medicines = selectors.medicines_by_uid({UUID(one["medicine"]) for one in waiting}, door)
    asked = [
        DoseAsked(one["type"], UUID(one["animal"]), medicines[UUID(one["medicine"])], door.at + AT_ONCE)
        for one in waiting
    ]
    passing = [
        (one, dose)
        for one, dose in zip(waiting, doses_at(asked, door), strict=True)
        if dose is not None and dose.found.outcome is not Outcome.OUTSTANDING
    ]
    action_type = types.by_name("duty-action")
    assert action_type is not None  # registered by the platform
    items = [
        service.NewRecord(
            place,
            new_uid(),
            service.check(
                action_type.input,
                {
                    "duty": one["duty"],
                    "action": "defer",
                    "animals": [one["animal"]],
                    "until": (door.at + AT_ONCE).isoformat(),
                    "occurred_at": door.at.isoformat(),
                    "note": f"{dose.facts.called} passes the label's minimum now.",
                },
            ),
        )
        for place, (one, dose) in enumerate(passing)
    ]
    for outcome in service.create(action_type, items, door) if items else []:
        if outcome.refusal is not None:
            raise outcome.refusal
    return len(items)


def _waiting(animals: Sequence[tuple[str, UUID]], door: Door) -> list[dict[str, Any]]:
    """Duties that were told already and hold these animals back for the label's minimum.  One query."""
    if not animals:
        return []
    asked = [{"type": kind, "uid": uid} for kind, uid in set(animals)]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT json_build_object('duty', d.uid, 'type', a.subject_type, 'animal', a.subject_uid,
                'medicine', d.asks ->> 'medicine')::text
            FROM json_to_recordset(%s) AS n (type text, uid uuid)
            JOIN duties_dutyanimal a ON a.kennel_id = %s AND a.subject_type = n.type AND a.subject_uid = n.uid
                AND a.state = 'outstanding' AND a.asks ->> 'outcome' = 'outstanding'
            JOIN duties_duty d ON d.kennel_id = a.kennel_id AND d.id = a.duty_id AND d.state = 'open'
                AND d.deleted_at IS NULL AND d.due_at <= %s AND d.asks ->> 'medicine' IS NOT NULL
            ORDER BY d.due_at, d.id, a.place LIMIT 400
            """,
            [store.dump(asked), door.kennel.id, door.at],
        )
        return [store.load(text) for (text,) in cursor.fetchall()]


def _begin_courses(facts: Sequence[_Fact], door: Door) -> None:
    """A first dose of several days running asks for the others, at the label's interval, for those that had it."""
    going_on = _going_on(facts, door)
    groups: dict[tuple[str, UUID, str], list[_Fact]] = {}
    for fact in facts:
        if fact.uid not in going_on:
            owner = fact.litter if fact.litter is not None else fact.animal
            kind = "litter" if fact.litter is not None else "dog"
            assert owner is not None
            groups.setdefault((kind, owner, fact.row["medicine"]), []).append(fact)
    for (
        kind,
        owner,
        medicine,
    ), began in groups.items():  # one course of one litter at a time, given by people
        interval = timedelta(hours=float(began[0].row["interval_h"]))
        last = max(fact.at for fact in began)
        wanted = {
            "course": {
                "kind": "treatment-course",
                "subject_type": kind,
                "subject_uid": str(owner),
                "settings": {"medicine": medicine, "animals": [str(fact.animal) for fact in began][:60]},
                "rule": {
                    "kind": "every",
                    "interval_s": int(interval.total_seconds()),
                    "anchor_at": (last + interval).isoformat(),
                    "count": int(began[0].row["course_days"]) - 1,
                },
            }
        }
        routines.routines_set("treatment", began[0].uid, wanted, door)


def _going_on(facts: Sequence[_Fact], door: Door) -> set[UUID]:
    """Those treatments that belong to a course that had begun before.  One query."""
    if not facts:
        return set()
    asked = [
        {
            "uid": fact.uid,
            "type": fact.type,
            "animal": fact.animal,
            "medicine": fact.row["medicine"],
            "at": fact.at,
            "reach_s": float(fact.row["interval_h"]) * 3600 * COURSE_BREAK * (fact.row["course_days"] - 1),
        }
        for fact in facts
    ]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT n.uid FROM json_to_recordset(%s)
                AS n (uid uuid, type text, animal uuid, medicine uuid, at timestamptz, reach_s float)
            WHERE EXISTS (
                SELECT FROM health_treatment t
                JOIN health_medicine m ON m.kennel_id = t.kennel_id AND m.id = t.medicine_id
                LEFT JOIN litters_pup p ON p.kennel_id = t.kennel_id AND p.id = t.pup_id
                LEFT JOIN litters_dog d ON d.kennel_id = t.kennel_id AND d.id = t.dog_id
                WHERE t.kennel_id = %s AND t.deleted_at IS NULL AND m.uid = n.medicine AND t.uid <> n.uid
                  AND n.animal = COALESCE(p.uid, d.uid) AND t.occurred_at < n.at
                  AND t.occurred_at >= n.at - make_interval(secs => n.reach_s))
            """,
            [store.dump(asked), door.kennel.id],
        )
        return {uid for (uid,) in cursor.fetchall()}
