"""Seen, taken, given back, skipped, put off, undone: who is told what, and what follows."""

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection

from kennel.records import service, types
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from tests.kennel.duties.scenes import Scene, minutes, utc

DUE = utc("2026-02-03 17:00")


@pytest.fixture
def duty(scene: Scene) -> UUID:
    scene.routine()
    scene.release(DUE)
    found: UUID = scene.duties()[0]["uid"]
    return found


def seconds(count: float) -> timedelta:
    return timedelta(seconds=count)


def action(scene: Scene, uid: UUID) -> dict[str, Any]:
    return scene.rows("SELECT * FROM duties_dutyaction WHERE kennel_id = %(k)s AND uid = %s", [uid])[0]


def texts(scene: Scene, uid: UUID) -> list[str]:
    found = scene.rows(
        "SELECT w ->> 'text' AS t FROM duties_dutyaction a, jsonb_array_elements(a.warnings) w"
        " WHERE a.kennel_id = %(k)s AND a.uid = %s",
        [uid],
    )
    return [row["t"] for row in found]


def test_taking_shows_who_and_until_when(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "take", scene.idris, DUE + minutes(1))
    row = scene.duties()[0]
    assert row["taken_by_id"] == scene.idris.pk
    assert (row["taken_at"], row["taken_until"]) == (DUE + minutes(1), DUE + minutes(16))
    assert row["state"] == "open"


def test_a_second_taker_is_told_who_took_it_and_when_and_changes_nothing(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "take", scene.idris, DUE + minutes(1))
    second = scene.act(duty, "take", scene.oona, DUE + minutes(3))
    assert texts(scene, second) == [f"{scene.idris.name} took this at 17:01 and is on it."]
    assert action(scene, second)["held_by_id"] == scene.idris.pk
    assert scene.duties()[0]["taken_by_id"] == scene.idris.pk


def test_after_15_minutes_somebody_else_can_take_it(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "take", scene.idris, DUE + minutes(1))
    second = scene.act(duty, "take", scene.oona, DUE + minutes(16))
    assert texts(scene, second) == []
    assert scene.duties()[0]["taken_by_id"] == scene.oona.pk


def test_taking_over_on_purpose_says_from_whom(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "take", scene.idris, DUE + minutes(1))
    second = scene.act(duty, "take", scene.oona, DUE + minutes(3), take_over=True)
    assert texts(scene, second) == [f"{scene.idris.name} had taken this at 17:01."]
    assert scene.duties()[0]["taken_by_id"] == scene.oona.pk


def test_the_same_carer_taking_twice_in_one_batch_goes_on_holding_it(scene: Scene, duty: UUID) -> None:
    record_type = types.by_name("duty-action")
    assert record_type is not None
    uids = [new_uid(), new_uid()]
    items = [
        service.NewRecord(
            n,
            uid,
            service.check(
                record_type.input,
                {"duty": str(duty), "action": "take", "occurred_at": (DUE + minutes(n)).isoformat()},
            ),
        )
        for n, uid in enumerate(uids)
    ]
    with scene.write(DUE + minutes(2), scene.idris) as opened:
        service.create(record_type, items, opened)
    assert texts(scene, uids[1]) == []  # the same carer, tapping twice
    assert scene.duties()[0]["taken_at"] == DUE + minutes(1)


def test_giving_it_back_frees_it_and_only_the_taker_can(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "take", scene.idris, DUE + minutes(1))
    other = scene.act(duty, "release", scene.oona, DUE + minutes(2))
    assert texts(scene, other) == ["You were not on it; nothing was given back."]
    assert scene.duties()[0]["taken_by_id"] == scene.idris.pk
    scene.act(duty, "release", scene.idris, DUE + minutes(3))
    assert scene.duties()[0]["taken_by_id"] is None


def test_a_tap_can_be_undone_for_10_seconds(scene: Scene, duty: UUID) -> None:
    taken = scene.act(duty, "take", scene.idris, DUE)
    with pytest.raises(Refusal) as late:
        scene.act(duty, "undo", scene.idris, DUE + seconds(11), undoes=str(taken))
    assert late.value.errors[0].code == "too_late"
    with pytest.raises(Refusal):
        scene.act(duty, "undo", scene.oona, DUE + seconds(5), undoes=str(taken))
    assert scene.duties()[0]["taken_by_id"] == scene.idris.pk
    scene.act(duty, "undo", scene.idris, DUE + seconds(10), undoes=str(taken))
    assert scene.duties()[0]["taken_by_id"] is None


def test_an_undo_of_nothing_is_refused(scene: Scene, duty: UUID) -> None:
    with pytest.raises(Refusal) as unknown:
        scene.act(duty, "undo", scene.idris, DUE, undoes=str(new_uid()))
    assert unknown.value.errors[0].code == "unknown"


def test_skipping_needs_a_reason_and_closes_for_the_animals_named(scene: Scene, duty: UUID) -> None:
    with pytest.raises(Refusal):
        scene.act(duty, "skip", scene.idris, DUE)
    scene.act(duty, "skip", scene.idris, DUE, animals=[str(scene.pups[0])], note="asleep at the dam")
    assert scene.animals(duty) == {"moss": "skipped", "rust": "outstanding", "slate": "outstanding"}
    skipped = scene.act(duty, "skip", scene.idris, DUE + minutes(1), note="vet said to wait")
    assert scene.duties()[0]["state"] == "closed"
    scene.act(duty, "undo", scene.idris, DUE + minutes(1) + seconds(8), undoes=str(skipped))
    assert scene.animals(duty) == {"moss": "skipped", "rust": "outstanding", "slate": "outstanding"}
    assert scene.duties()[0]["state"] == "open"


def test_an_animal_put_off_has_a_duty_of_its_own_on_its_own_date(scene: Scene, duty: UUID) -> None:
    until = utc("2026-02-04 09:00")
    put_off = scene.act(
        duty,
        "defer",
        scene.idris,
        DUE,
        animals=[str(scene.pups[1])],
        until=until.isoformat(),
        note="too light",
    )
    assert scene.animals(duty) == {"moss": "outstanding", "rust": "deferred", "slate": "outstanding"}
    following = scene.duties(f"occurrence = 'defer={put_off}'")[0]
    assert (following["due_at"], following["useful_until"]) == (until, until + timedelta(hours=1))
    assert (following["asks"], following["text"]) == ('{"dry_g": 40}', "40 g for rust.")
    assert scene.animals(following["uid"]) == {"rust": "outstanding"}
    scene.replan(DUE + minutes(5))
    assert scene.duties(f"occurrence = 'defer={put_off}'")[0]["version"] == following["version"]
    assert scene.release(until).released == 1


def test_a_deferral_taken_back_calls_its_duty_off(scene: Scene, duty: UUID) -> None:
    put_off = scene.act(duty, "defer", scene.idris, DUE, until=utc("2026-02-04 09:00").isoformat())
    assert scene.duties()[0]["state"] == "closed"
    scene.act(duty, "undo", scene.idris, DUE + seconds(9), undoes=str(put_off))
    assert scene.duties()[0]["state"] == "open"
    assert [d["state"] for d in scene.duties(f"occurrence = 'defer={put_off}'")] == ["cancelled"]


def test_done_by_a_tap_only_where_no_fact_says_it(scene: Scene, duty: UUID) -> None:
    with pytest.raises(Refusal) as refused:
        scene.act(duty, "done", scene.idris, DUE)
    assert refused.value.errors[0].code == "record_it"
    task = scene.create("duty", {"title": "Wash the bedding", "due_at": DUE.isoformat()})
    scene.act(task, "done", scene.idris, DUE + minutes(2))
    row = scene.duties("kind = 'task'")[0]
    assert (row["state"], row["closed_at"]) == ("closed", DUE + minutes(2))


def test_seeing_marks_the_own_messages_and_closes_nothing(scene: Scene, duty: UUID) -> None:
    scene.send(DUE, "inbox")
    scene.act(duty, "seen", scene.idris, DUE + minutes(1))
    seen = {m["carer"]: m["seen_at"] for m in scene.messages("inbox", "step = 0")}
    assert seen[scene.idris.name] == DUE + minutes(1)
    assert seen[scene.oona.name] is None
    assert scene.duties()[0]["state"] == "open"


def test_a_tap_on_a_closed_duty_is_kept_and_says_so(scene: Scene, duty: UUID) -> None:
    scene.act(duty, "skip", scene.idris, DUE, note="gone home")
    late = scene.act(duty, "take", scene.oona, DUE + minutes(2))
    assert texts(scene, late) == ["This was closed already at 17:00."]


def test_a_tap_is_not_changed_afterwards_but_can_be_deleted(scene: Scene, duty: UUID) -> None:
    taken = scene.act(duty, "take", scene.idris, DUE)
    with pytest.raises(Refusal):
        scene.change("duty-action", taken, {"action": "release", "reason": "wrong button"})
    scene.remove("duty-action", taken, DUE + minutes(1))
    assert scene.duties()[0]["taken_by_id"] is None


def test_the_same_tap_sent_twice_counts_once(scene: Scene, duty: UUID) -> None:
    uid = new_uid()
    for _ in range(2):
        scene.act(duty, "take", scene.idris, DUE, uid=str(uid))
    assert scene.duties()[0]["version"] == 3  # planned, released, taken
    assert connection.in_atomic_block is False
