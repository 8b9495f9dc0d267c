"""The daily round: which pups are due to be weighed by the published rhythm, and those under watch again."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health import duty_texts
from kennel.clock.wall_clock import local_day
from kennel.duties import kinds
from kennel.duties.kinds import Animal, Asked, DutyKind, Occasion
from kennel.duties.services import routines
from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Saved
from litters.selectors import ResidentPup, resident_pups
from litters.services.figures import agreed_figures, growth_limits

SOURCE = "litter-weigh-ins"
WALL_TIME = "08:00"
# The rhythm of the handbook ends with weekly weighings; from 12 weeks on they are the owner's.
LAST_DAY = 83
# The handbook's daily weighings end on day 14.
KNOWN_BY = timedelta(days=14)


def plan_weigh_ins(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """The pups of a litter whose weighing is due then by the rhythm of their age.  Two queries for any number."""
    litters = {o.routine.subject_uid for o in occasions if o.routine.subject_uid}
    by_litter: dict[UUID, list[ResidentPup]] = {}
    for pup in resident_pups(sorted(litters), door.kennel.id, door.at):
        by_litter.setdefault(pup.litter, []).append(pup)
    limits = growth_limits(agreed_figures(door.kennel.id))

    def is_due(pup: ResidentPup, at: datetime) -> bool:
        if pup.weighed_at is None:
            return True
        age_h = (pup.weighed_at - pup.born_at).total_seconds() / 3600
        every_h = limits.weighing_every_h(max(0.0, age_h))
        return (at - pup.weighed_at).total_seconds() / 3600 >= every_h - limits.weighing_grace_h

    names = _names(sorted(litters), door)
    answers: list[Asked | None] = []
    for occasion in occasions:
        litter = occasion.routine.subject_uid
        pups = by_litter.get(litter, []) if litter else []
        if occasion.only is not None:
            put_off = {animal.subject_uid for animal in occasion.only}
            due = [pup for pup in pups if pup.uid in put_off]
        else:
            due = [pup for pup in pups if is_due(pup, occasion.due_at)]
        animals = [Animal("pup", pup.uid, pup.called, {"weighed_at": pup.weighed_at}) for pup in due]
        asks = {"litter": litter, "litter_name": names.get(litter, "") if litter else ""}
        answers.append(Asked(animals, asks) if animals else None)
    return answers


def _names(litters: Sequence[UUID], door: Door) -> dict[UUID, str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, name FROM litters_litter WHERE kennel_id = %s AND uid = ANY(%s::uuid[])",
            [door.kennel.id, store.array(litters)],
        )
        return dict(cursor.fetchall())


def plan_again(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """A watched pup weighed again, with the reasons of its watch.  One query for any number."""
    pups = [o.routine.subject_uid for o in occasions if o.routine.subject_uid]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT p.uid, COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), 'pup ' || COALESCE(p.birth_order, 0)),
                   h.level, h.reasons::text, l.uid
            FROM health_watch h JOIN litters_pup p ON p.kennel_id = h.kennel_id AND p.id = h.pup_id
            JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            WHERE h.kennel_id = %s AND h.closed_at IS NULL AND h.deleted_at IS NULL AND p.uid = ANY(%s::uuid[])
              AND p.fate = 'living' AND p.deleted_at IS NULL
            ORDER BY h.opened_at, h.id LIMIT 400
            """,
            [door.kennel.id, store.array(pups)],
        )
        found: dict[UUID, tuple[str, dict[str, Any]]] = {
            uid: (called, {"level": level, "reasons": store.load(reasons), "litter": litter})
            for uid, called, level, reasons, litter in cursor.fetchall()
        }
    answers: list[Asked | None] = []
    for occasion in occasions:
        watch = found.get(occasion.routine.subject_uid) if occasion.routine.subject_uid else None
        if watch is None or occasion.routine.subject_uid is None:
            answers.append(None)
            continue
        called, asks = watch
        answers.append(Asked([Animal("pup", occasion.routine.subject_uid, called)], asks))
    return answers


def litters_follow(saved: Sequence[Saved], door: Door) -> None:
    """A litter known by its second week has its daily round, until 12 weeks or until it is closed.

    One that is entered later has its own habits by then; its round can be added as a routine.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, whelped_at, closed_on, deleted_at, recorded_at FROM litters_litter"
            " WHERE kennel_id = %s AND id = ANY(%s) ORDER BY id LIMIT 1000",
            [door.kennel.id, [one.id for one in saved]],
        )
        rows = cursor.fetchall()
    for (
        uid,
        whelped_at,
        closed_on,
        deleted_at,
        recorded_at,
    ) in rows:  # litters are written one at a time by people
        wanted = {}
        known_early = whelped_at is not None and recorded_at <= whelped_at + KNOWN_BY
        if known_early and closed_on is None and deleted_at is None:
            born_on = local_day(whelped_at, door.kennel.zone)
            if local_day(door.at, door.kennel.zone) <= born_on + timedelta(days=LAST_DAY):
                wanted["round"] = _round(uid, born_on)
        routines.routines_set(SOURCE, uid, wanted, door)


def _round(litter: UUID, born_on: date) -> dict[str, Any]:
    return {
        "kind": "weigh-in",
        "subject_type": "litter",
        "subject_uid": str(litter),
        "rule": {
            "kind": "at",
            "rrule": "FREQ=DAILY",
            "wall_times": [WALL_TIME],
            "first_on": born_on.isoformat(),
        },
        "day_zero_on": born_on.isoformat(),
        "from_age_days": 0,
        "until_age_days": LAST_DAY,
    }


def register() -> None:
    """Add the kinds of this module; called once, from `apps.py`."""
    kinds.register(
        DutyKind(
            "weigh-in",
            "Weigh the pups",
            plan=plan_weigh_ins,
            describe=duty_texts.weigh_in_text,
            done_by=("weighing",),
            early=timedelta(hours=6),
            useful_for=timedelta(hours=12),
            escalate_after=timedelta(hours=2),
        )
    )
    kinds.register(
        DutyKind(
            "weigh-again",
            "Weigh again",
            plan=plan_again,
            describe=duty_texts.weigh_again_text,
            done_by=("weighing",),
            early=timedelta(hours=6),
            useful_for=timedelta(hours=12),
        )
    )
