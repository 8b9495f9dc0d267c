"""Doses and watches of a litter's day, against counting by hand in the test."""

import json
from datetime import date, timedelta
from typing import Any

import psycopg
import pytest

from litters.rollup.services import computing
from tests.health.scenes import Health
from tests.kennel.duties.scenes import AT, utc

pytestmark = pytest.mark.usefixtures("db")


def day(scene: Health, owner: psycopg.Connection, on: date, at: str) -> dict[str, Any]:
    """What health added to a stored day, computed at an instant."""
    computing.mark_finished_days(utc(at))
    computing.compute_dirty(utc(at))
    row = owner.execute(
        "SELECT d.extra FROM rollup_litterday d JOIN litters_litter l ON l.id = d.litter_id"
        " WHERE l.uid = %s AND d.day = %s",
        [scene.litter, on],
    ).fetchone()
    assert row is not None
    extra = row[0]
    found: dict[str, Any] = (json.loads(extra) if isinstance(extra, str) else extra)["health"]
    return found


def test_doses_given_due_and_late_are_counted_once_each(owner: psycopg.Connection) -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    scene.plan_for("us_label_pyrantel", medicine)  # due on 4 February at 08:00
    scene.tick(utc("2026-02-04 08:00"))
    moss, rust, slate = scene.pups
    scene.give(moss, medicine, utc("2026-02-04 08:05"))
    scene.give(rust, medicine, utc("2026-02-04 08:06"), outcome="spat_out")
    twice = scene.give(moss, medicine, utc("2026-02-04 08:15"))
    assert scene.row("health_treatment", twice)["possible_duplicate_of"] is not None
    scene.give(slate, medicine, utc("2026-02-04 10:30"))
    dam = scene.rows("SELECT uid FROM litters_dog WHERE kennel_id = %(k)s")[0]["uid"]
    row = {"dog": str(dam), "medicine": str(medicine), "occurred_at": utc("2026-02-04 09:00").isoformat()}
    scene.create("treatment", row, utc("2026-02-04 09:00"))
    found = day(scene, owner, date(2026, 2, 4), "2026-02-05 03:00")
    assert (found["doses"], found["doses_not_kept"], found["dam_doses"]) == (3, 1, 1)
    assert (found["doses_due"], found["doses_done"], found["doses_late"]) == (1, 1, 1)
    assert found["doses_missed"] == 0
    before = day(scene, owner, date(2026, 2, 3), "2026-02-05 03:00")
    assert (before["doses"], before["doses_due"]) == (0, 0)


def test_what_was_due_the_day_before_and_is_done_or_missed_only_now_changes_that_day(
    owner: psycopg.Connection,
) -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    scene.plan_for("us_label_pyrantel", medicine)  # due on 4 February at 08:00, worth doing for a week
    scene.tick(utc("2026-02-04 08:00"))
    due_on = date(2026, 2, 4)

    def told(at: str) -> dict[str, int]:
        found = day(scene, owner, due_on, at)
        return {name: found[f"doses_{name}"] for name in ("due", "done", "late", "missed")}

    assert told("2026-02-05 03:00") == {"due": 1, "done": 0, "late": 0, "missed": 0}
    given = [scene.give(pup, medicine, utc("2026-02-05 07:00")) for pup in scene.pups]
    assert told("2026-02-05 07:05") == {"due": 1, "done": 1, "late": 1, "missed": 0}
    scene.remove("treatment", given[0], utc("2026-02-05 07:10"))
    assert told("2026-02-05 07:15") == {"due": 1, "done": 0, "late": 0, "missed": 0}
    scene.tick(utc("2026-02-12 08:00"))
    assert told("2026-02-12 08:05") == {"due": 1, "done": 0, "late": 0, "missed": 1}


def test_a_watch_counts_on_the_day_it_was_opened_and_as_open_until_it_is_closed(
    owner: psycopg.Connection,
) -> None:
    scene = Health()
    given = {"pup": str(scene.pups[0]), "level": "watch", "reasons": ["small"]}
    watch = scene.create("watch", {**given, "opened_at": AT.isoformat()})
    event = {"litter": str(scene.litter), "kind": "test", "occurred_at": AT.isoformat()}
    scene.create("health-event", event)
    first = day(scene, owner, date(2026, 2, 3), "2026-02-06 03:00")
    assert (first["watches_opened"], first["watches_open"], first["health_events"]) == (1, 1, 1)
    second = day(scene, owner, date(2026, 2, 4), "2026-02-06 03:00")
    assert (second["watches_opened"], second["watches_open"], second["health_events"]) == (0, 1, 0)
    closed = {"closed_at": utc("2026-02-04 10:00").isoformat(), "closed_by": "vet", "closing_reason": "well"}
    scene.change("watch", watch, closed, utc("2026-02-06 05:00"))
    assert day(scene, owner, date(2026, 2, 3), "2026-02-06 06:00")["watches_open"] == 1
    assert day(scene, owner, date(2026, 2, 4), "2026-02-06 06:00")["watches_open"] == 0


def test_a_late_entry_and_a_removal_change_the_stored_day(owner: psycopg.Connection) -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    assert day(scene, owner, date(2026, 2, 3), "2026-02-05 03:00")["doses"] == 0
    late = scene.give(scene.pups[0], medicine, AT, note="told the day after")
    assert day(scene, owner, date(2026, 2, 3), "2026-02-05 03:00")["doses"] == 1
    scene.remove("treatment", late, AT + timedelta(minutes=1))
    assert day(scene, owner, date(2026, 2, 3), "2026-02-05 03:00")["doses"] == 0


def test_another_kennels_doses_and_watches_count_for_nobody_here(owner: psycopg.Connection) -> None:
    scene, other = Health(), Health()
    other.give(other.pups[0], other.label("pyrantel_us_suspension"), AT)
    watch = {"pup": str(other.pups[0]), "level": "watch", "reasons": ["small"], "opened_at": AT.isoformat()}
    other.create("watch", watch)
    here = day(scene, owner, date(2026, 2, 3), "2026-02-05 03:00")
    assert (here["doses"], here["watches_open"]) == (0, 0)
    there = day(other, owner, date(2026, 2, 3), "2026-02-05 03:00")
    assert (there["doses"], there["watches_open"]) == (1, 1)


def test_who_gave_a_dose_or_told_of_an_illness_contributed_to_that_day_alone(
    owner: psycopg.Connection,
) -> None:
    scene = Health(weight_g=None)
    scene.give(scene.pups[0], scene.label("pyrantel_us_suspension"), utc("2026-02-03 15:00"))  # by Idris
    at = utc("2026-02-03 16:00")
    event = {"kind": "diarrhoea", "occurred_at": at.isoformat()}
    scene.create("health-event", {**event, "litter": str(scene.litter)}, at, scene.oona)
    names = "SELECT d.day, d.contributors FROM rollup_litterday d ORDER BY d.day DESC LIMIT 2"
    computing.mark_finished_days(utc("2026-02-05 03:00"))
    computing.compute_dirty(utc("2026-02-05 03:00"))
    stored = dict(owner.execute(names).fetchall())
    assert stored == {date(2026, 2, 4): [], date(2026, 2, 3): sorted([scene.idris.name, scene.oona.name])}
