"""Random histories: whatever people do and whenever ticks run, what is stored stays consistent.

Each history prints its seed; the checks read the stored rows only.
"""

import random
from contextlib import suppress
from datetime import timedelta
from typing import Any

import psycopg
import pytest

from kennel.duties.services.restoring import reminders_suppress
from kennel.records.refusals import Refusal
from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import DAILY, Scene, minutes, utc

pytestmark = pytest.mark.usefixtures("weighings_close_duties")

ILLS = {
    "an unsent message about a duty that is over": """
        SELECT r.id FROM duties_reminder r JOIN duties_duty d ON d.id = r.duty_id
        WHERE r.kennel_id = %(k)s AND r.state = 'pending'
            AND (d.state <> 'open' OR d.deleted_at IS NOT NULL)""",
    "a count that is not that of the animals": """
        SELECT d.id FROM duties_duty d WHERE d.kennel_id = %(k)s AND d.outstanding <> (
            SELECT count(*) FROM duties_dutyanimal a WHERE a.duty_id = d.id AND a.state = 'outstanding')
        AND d.state <> 'cancelled'""",
    "a closed duty with somebody outstanding, or an open one with nobody": """
        SELECT d.id FROM duties_duty d WHERE d.kennel_id = %(k)s
        AND ((d.state = 'closed') <> (d.outstanding = 0)) AND d.state IN ('open', 'closed')""",
    "a message accepted after its use": """
        SELECT id FROM duties_reminder WHERE kennel_id = %(k)s AND kind = 'duty' AND held_in_id IS NULL
        AND accepted_at >= useful_until""",
    "a settled animal whose fact is not there": """
        SELECT a.id FROM duties_dutyanimal a WHERE a.kennel_id = %(k)s AND a.state <> 'outstanding'
        AND NOT EXISTS (SELECT FROM litters_weighing w WHERE w.uid = a.settled_uid AND w.deleted_at IS NULL)
        AND NOT EXISTS (SELECT FROM duties_dutyaction x WHERE x.uid = a.settled_uid
            AND x.deleted_at IS NULL)""",
    "a released duty without a message to anybody": """
        SELECT d.id FROM duties_duty d WHERE d.kennel_id = %(k)s AND d.released_at IS NOT NULL
        AND NOT EXISTS (SELECT FROM duties_reminder r WHERE r.duty_id = d.id)""",
    "a message that waits in a digest that is over": """
        SELECT r.id FROM duties_reminder r JOIN duties_reminder g ON g.id = r.held_in_id
        WHERE r.kennel_id = %(k)s AND r.state = 'pending' AND g.state <> 'pending'""",
}


def find_ills(scene: Scene) -> dict[str, list[dict[str, Any]]]:
    return {ill: found for ill, sql in ILLS.items() if (found := scene.rows(sql))}


@pytest.mark.parametrize("seed", range(12))
def test_whatever_happens_the_rows_agree(scene: Scene, sink: Sink, seed: int) -> None:
    print(f"seed {seed}")
    chance = random.Random(seed)
    scene.shift(scene.oona, "18:00", "02:00")
    scene.quiet(scene.idris, "22:00", "06:00")
    scene.routine(
        rule={
            "kind": "every",
            "interval_s": chance.choice([1800, 3600, 5400]),
            "anchor_at": "2026-02-03T13:00:00Z",
        }
    )
    scene.routine(
        rule={
            "kind": "every",
            "interval_s": 7200,
            "anchor_at": "2026-02-03T13:00:00Z",
            "from": "completion",
        },
        kind="test-weigh",
        useful_for_s=3600,
    )
    scene.routine(rule={**DAILY, "wall_times": ["14:00", "19:00"]}, level="critical")
    at, taps, weighings = utc("2026-02-03 12:30"), [], []
    for _ in range(45):
        at += timedelta(minutes=chance.choice([1, 3, 7, 15, 40, 120]))
        people = (scene.maud, scene.idris, scene.oona)
        by = chance.choice(people)
        duties = scene.duties(f"due_at < '{at + minutes(60)}' AND due_at > '{at - minutes(240)}'")
        what = chance.choice(
            ["tick", "tick", "tick", "weigh", "weigh", "tap", "tap", "undo", "delete", "pup", "settle"]
        )
        sink.data_answer = chance.choice(["250 Taken", "250 Taken", "250 Taken", "451 Later", "550 No"])
        if what == "tick":
            scene.tick(at)
        elif what == "weigh":
            weighings.append(scene.weigh(chance.choice(scene.pups), at, by))
        elif what == "settle" and duties:
            for pup in scene.pups:
                weighings.append(scene.weigh(pup, at, by))
        elif what == "tap" and duties:
            action = chance.choice(["take", "take", "release", "skip", "defer", "seen"])
            fields = {
                "skip": {"note": "asleep", "animals": [str(chance.choice(scene.pups))]},
                "defer": {
                    "until": (at + minutes(45)).isoformat(),
                    "animals": [str(chance.choice(scene.pups))],
                },
            }.get(action, {})
            duty = chance.choice(duties)["uid"]
            taps.append((duty, scene.act(duty, action, by, at, **fields), by, at))
        elif what == "undo" and taps:
            duty, tap, maker, made_at = taps.pop()
            with suppress(Refusal):  # too late by now, or deleted meanwhile
                scene.act(duty, "undo", maker, made_at + timedelta(seconds=5), undoes=str(tap))
        elif what == "delete" and weighings:
            scene.remove("weighing", weighings.pop(chance.randrange(len(weighings))), at)
        elif what == "pup":
            fate = chance.choice(["living", "died"])
            died = {"died_at": "2026-02-03T12:00:00Z"} if fate == "died" else {"died_at": None}
            scene.change("pup", scene.pups[0], {"fate": fate, **died}, at)
            scene.replan(at)
        assert find_ills(scene) == {}
    sink.data_answer = "250 Taken"
    for step in range(6):
        scene.tick(at + minutes(30) * (step + 1))
    assert find_ills(scene) == {}
    assert len(sink.ids()) == len(set(sink.ids()))


def test_messages_due_before_a_restore_are_suppressed_and_the_next_step_goes_out(
    scene: Scene, sink: Sink, owner: psycopg.Connection
) -> None:
    scene.routine()
    due = utc("2026-02-03 17:00")
    scene.release(due)
    with scene.write(due + minutes(1)):
        assert reminders_suppress(due + minutes(1)) == 6
    assert scene.send(due + minutes(1)).in_all == 0
    assert scene.send(due + minutes(15)).accepted == 3
