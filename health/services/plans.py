"""Rules of treatment plans, and the routines that follow from them."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from health.choices import PlanKind
from health.plan_data import default_phases, default_series, is_vaccination
from kennel.clock.wall_clock import instant_of, local_day
from kennel.duties.services import planning, routines
from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Draft, Saved

PLAN = "treatment-plan"


def plans_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in what the plan is about, and the published rules where none of its own are given."""
    for draft in drafts:
        scheme = draft.input.scheme
        vaccination = is_vaccination(scheme)
        draft.columns["kind"] = PlanKind.VACCINATION.value if vaccination else PlanKind.WORMING.value
        changed = draft.before is not None and "scheme" in draft.sent
        if vaccination:
            draft.columns["phases"] = None
            if draft.columns["series"] is None or (changed and "series" not in draft.sent):
                draft.columns["series"] = default_series(scheme)
        else:
            draft.columns["series"] = None
            if draft.columns["phases"] is None or (changed and "phases" not in draft.sent):
                draft.columns["phases"] = default_phases(scheme)


def plans_follow(saved: Sequence[Saved], door: Door) -> None:
    """Make the routines those of the plans written, and plan them anew."""
    _follow("t.id", [one.id for one in saved], door)


def litters_follow(saved: Sequence[Saved], door: Door) -> None:
    """A litter was born, weaned, corrected or closed: its plans count from there."""
    _follow("t.litter_id", [one.id for one in saved], door)


def medicines_follow(saved: Sequence[Saved], door: Door) -> None:
    """A label was corrected: the plans that use the medicine ask anew."""
    if not any(one.before for one in saved):
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid FROM health_treatmentplan WHERE kennel_id = %s AND deleted_at IS NULL"
            " AND medicine_id = ANY(%s) LIMIT 1000",
            [door.kennel.id, [one.id for one in saved]],
        )
        planning.replan_later(door, sources=[(PLAN, uid) for (uid,) in cursor.fetchall()])


def _follow(column: str, ids: Sequence[int], door: Door) -> None:
    """Plans are written one at a time by people, so the routines of each are set by themselves."""
    plans = _plans(column, ids, door)
    for plan in plans:
        wanted = {} if plan["has_ended"] else routines_wanted(plan, door)
        routines.routines_set(PLAN, UUID(plan["uid"]), wanted, door)
    sources = [(PLAN, UUID(plan["uid"])) for plan in plans]
    planning.replan(planning.routines_of(door, sources=sources), door)


def _plans(column: str, ids: Sequence[int], door: Door) -> list[dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT json_build_object('uid', t.uid, 'kind', t.kind, 'wall_time', t.wall_time,
                'weigh_first_minutes', t.weigh_first_minutes, 'ended_on', t.ended_on, 'litter', l.uid,
                'dog', g.uid, 'recorded_at', t.recorded_at, 'closed_on', l.closed_on,
                'has_ended', t.deleted_at IS NOT NULL OR l.deleted_at IS NOT NULL OR g.deleted_at IS NOT NULL)::text
            FROM health_treatmentplan t
            LEFT JOIN litters_litter l ON l.kennel_id = t.kennel_id AND l.id = t.litter_id
            LEFT JOIN litters_dog g ON g.kennel_id = t.kennel_id AND g.id = t.dog_id
            WHERE t.kennel_id = %s AND {column} = ANY(%s) ORDER BY t.id LIMIT 1000
            """,  # noqa: S608 - one of two column names of ours
            [door.kennel.id, list(ids)],
        )
        return [store.load(text) for (text,) in cursor.fetchall()]


def routines_wanted(plan: Mapping[str, Any], door: Door) -> dict[str, dict[str, Any]]:
    """Routines of a plan by key.  They look at every day; what is due on it follows from the animals' own dates."""
    zone = door.kennel.zone
    first_on = local_day(datetime.fromisoformat(plan["recorded_at"]), zone)
    ends = [date.fromisoformat(day) for day in (plan["ended_on"], plan["closed_on"]) if day]
    end = max(min(ends), first_on + timedelta(days=1)) if ends else None
    common = {
        "subject_type": "litter" if plan["litter"] else "dog",
        "subject_uid": plan["litter"] or plan["dog"],
        "ends_at": instant_of(end, time.min, zone).isoformat() if end else None,
    }
    wanted = {"dose": {**common, "kind": plan["kind"], "rule": _daily(plan["wall_time"], first_on)}}
    minutes = plan["weigh_first_minutes"]
    if minutes and plan["kind"] == PlanKind.WORMING:
        wall_time = weigh_first_time(plan["wall_time"], minutes)
        wanted["weigh-first"] = {
            **common,
            "kind": "weigh-first",
            "rule": _daily(wall_time, first_on),
            "settings": {"minutes": minutes},
            "useful_for_s": minutes * 60,
        }
    return wanted


def weigh_first_time(wall_time: str, minutes: int) -> str:
    """The wall time at which weights are asked for, so long before."""
    at = time.fromisoformat(wall_time)
    begins = at.hour * 60 + at.minute - minutes
    return time(begins % 1440 // 60, begins % 60).isoformat("minutes")


def _daily(wall_time: str, first_on: date) -> dict[str, Any]:
    return {
        "kind": "at",
        "rrule": "FREQ=DAILY",
        "wall_times": [wall_time],
        "first_on": first_on.isoformat(),
    }
