"""Routines become duties 72 hours ahead, once, and what lies ahead and is unsent follows the facts."""

from datetime import timedelta

import pytest

from kennel.duties.services import planning
from kennel.duties.services.routines import routines_set
from kennel.people.choices import Role
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from tests.kennel.duties.scenes import AT, DAILY, CountQueries, Scene, minutes, utc


def test_a_routine_is_planned_72_hours_ahead_when_it_is_made(scene: Scene) -> None:
    scene.routine(rule={**DAILY, "wall_times": ["08:00", "17:00"]})
    assert [d["due_at"] for d in scene.duties()] == [
        utc("2026-02-03 17:00"),
        utc("2026-02-04 08:00"),
        utc("2026-02-04 17:00"),
        utc("2026-02-05 08:00"),
        utc("2026-02-05 17:00"),
        utc("2026-02-06 08:00"),
    ]


def test_a_planned_duty_stores_what_it_asks_for_and_names_its_animals(scene: Scene) -> None:
    scene.routine()
    duty = scene.duties()[0]
    assert duty["title"] == "Softened food"
    assert duty["text"] == "120 g for moss, rust, slate."
    assert (duty["asks"], duty["outstanding"], duty["level"]) == ('{"dry_g": 120}', 3, "due")
    assert duty["useful_until"] == duty["due_at"] + timedelta(hours=1)
    assert scene.animals(duty["uid"]) == {
        "moss": "outstanding",
        "rust": "outstanding",
        "slate": "outstanding",
    }


def test_planning_again_changes_nothing(scene: Scene) -> None:
    scene.routine()
    before = scene.duties()
    scene.replan()
    scene.replan(AT + minutes(1))
    assert scene.duties() == before


def test_the_tick_plans_on_when_an_hour_of_the_72_is_used_up(scene: Scene) -> None:
    scene.routine()
    assert scene.plan(AT + minutes(59)) == 0
    assert len(scene.duties()) == 3
    assert scene.plan(AT + timedelta(hours=6)) == 1
    assert scene.plan(AT + timedelta(hours=6)) == 0
    assert [d["due_at"] for d in scene.duties()][-1] == utc("2026-02-06 17:00")


def test_three_pups_leave_and_the_next_bowl_shrinks_but_the_one_already_announced_stays(scene: Scene) -> None:
    scene = Scene(pups=8)
    scene.routine(rule={**DAILY, "wall_times": ["13:00", "17:00"]})
    first, second = scene.duties()[:2]
    scene.release(utc("2026-02-03 13:00"))
    for pup in scene.pups[:3]:
        scene.change("pup", pup, {"fate": "died", "died_at": "2026-02-03T13:30:00Z"}, utc("2026-02-03 14:00"))
    with scene.write(utc("2026-02-03 14:00")) as opened:
        assert planning.replan_later(opened, subjects=[("litter", scene.litter)]) == 1
    assert scene.plan(utc("2026-02-03 14:00")) == 1
    after = {d["uid"]: d for d in scene.duties()}
    assert (after[first["uid"]]["asks"], after[first["uid"]]["outstanding"]) == ('{"dry_g": 320}', 8)
    assert (after[second["uid"]]["asks"], after[second["uid"]]["outstanding"]) == ('{"dry_g": 200}', 5)
    assert len(scene.animals(second["uid"])) == 5
    assert after[second["uid"]]["text"] == "200 g for straw, plum, fern, clay, sky."


def test_duties_are_called_off_when_nobody_is_left_and_come_back_with_the_first(scene: Scene) -> None:
    scene.routine()
    for pup in scene.pups:
        scene.change("pup", pup, {"fate": "died", "died_at": "2026-02-03T12:00:00Z"})
    scene.replan()
    assert {d["state"] for d in scene.duties()} == {"cancelled"}
    scene.change("pup", scene.pups[1], {"fate": "living", "died_at": None})
    scene.replan()
    assert [(d["state"], d["outstanding"]) for d in scene.duties()] == [("open", 1)] * 3
    assert scene.animals(scene.duties()[0]["uid"]) == {"rust": "outstanding"}


def test_a_changed_rule_moves_what_lies_ahead_and_leaves_what_was_announced(scene: Scene) -> None:
    routine = scene.routine()
    scene.release(utc("2026-02-03 17:00"))
    scene.change("routine", routine, {"rule": {**DAILY, "wall_times": ["18:30"]}}, utc("2026-02-03 17:05"))
    states = {d["due_at"]: d["state"] for d in scene.duties()}
    assert states == {
        utc("2026-02-03 17:00"): "open",
        utc("2026-02-03 18:30"): "open",
        utc("2026-02-04 17:00"): "cancelled",
        utc("2026-02-04 18:30"): "open",
        utc("2026-02-05 17:00"): "cancelled",
        utc("2026-02-05 18:30"): "open",
    }


def test_a_deleted_or_paused_routine_calls_off_what_lies_ahead(scene: Scene) -> None:
    deleted, paused = scene.routine(title="one"), scene.routine(title="two")
    scene.remove("routine", deleted)
    scene.change("routine", paused, {"is_active": False})
    assert {d["state"] for d in scene.duties()} == {"cancelled"}
    scene.change("routine", paused, {"is_active": True}, AT + minutes(1))
    assert {d["state"] for d in scene.duties("title = 'two'")} == {"open"}


def test_a_routine_runs_between_ages_both_included(scene: Scene) -> None:
    scene.routine(day_zero_on="2026-01-07", from_age_days=28, until_age_days=29)
    assert [d["due_at"] for d in scene.duties()] == [utc("2026-02-04 17:00"), utc("2026-02-05 17:00")]


def test_elapsed_time_keeps_its_distance_from_the_anchor(scene: Scene) -> None:
    scene.routine(
        rule={"kind": "every", "interval_s": 7200 * 12, "anchor_at": "2026-02-01T09:30:00Z"}, title="bottle"
    )
    assert [(d["occurrence"], d["due_at"]) for d in scene.duties()] == [
        ("n=3", utc("2026-02-04 09:30")),
        ("n=4", utc("2026-02-05 09:30")),
        ("n=5", utc("2026-02-06 09:30")),
    ]


def test_from_completion_the_next_is_due_an_interval_after_the_last_was_done(
    scene: Scene, weighings_close_duties: None
) -> None:
    rule = {"kind": "every", "interval_s": 7200, "anchor_at": "2026-02-03T13:00:00Z", "from": "completion"}
    scene.routine(rule=rule)
    assert [d["due_at"] for d in scene.duties()] == [utc("2026-02-03 13:00")]
    scene.release(utc("2026-02-03 13:00"))
    for pup, at in zip(scene.pups, ("13:04", "13:06", "13:10"), strict=True):
        scene.weigh(pup, utc(f"2026-02-03 {at}"))
    assert [(d["due_at"], d["state"]) for d in scene.duties()] == [
        (utc("2026-02-03 13:00"), "closed"),
        (utc("2026-02-03 15:10"), "open"),
    ]


def test_from_completion_goes_on_after_a_missed_one(scene: Scene) -> None:
    rule = {"kind": "every", "interval_s": 7200, "anchor_at": "2026-02-03T13:00:00Z", "from": "completion"}
    scene.routine(rule=rule)
    scene.release(utc("2026-02-03 13:00"))
    scene.release(utc("2026-02-03 14:00"))
    assert [(d["due_at"], d["state"]) for d in scene.duties()] == [
        (utc("2026-02-03 13:00"), "missed"),
        (utc("2026-02-03 15:00"), "open"),
    ]


def test_from_completion_an_overdue_anchor_asks_now_and_not_for_the_past(scene: Scene) -> None:
    rule = {"kind": "every", "interval_s": 7200, "anchor_at": "2025-02-03T13:00:00Z", "from": "completion"}
    scene.routine(rule=rule)
    assert [d["due_at"] for d in scene.duties()] == [AT]


def test_a_kennel_that_moves_to_another_zone_keeps_wall_times(scene: Scene) -> None:
    scene.routine()
    before = {d["occurrence"]: d["uid"] for d in scene.duties()}
    scene.rows("UPDATE people_kennel SET zone = 'Australia/Lord_Howe' WHERE id = %(k)s RETURNING id")
    moved = Scene.__new__(Scene)
    moved.__dict__ |= scene.__dict__
    here = scene.place.here
    moved.place = type(scene.place)(
        type(here)(here.id, here.uid, here.name, "Australia/Lord_Howe", ""), scene.maud, scene.place.actor
    )
    moved.replan()
    after = {d["occurrence"]: d for d in moved.duties("state = 'open'")}
    # 17:00 on Lord Howe in summer is 06:00 UTC (offset +11:00 by the tz database).
    assert after["2026-02-04T17:00"]["due_at"] == utc("2026-02-04 06:00")
    assert after["2026-02-04T17:00"]["uid"] == before["2026-02-04T17:00"]


def test_a_source_sets_its_routines_and_setting_them_again_changes_nothing(scene: Scene) -> None:
    source = new_uid()
    wanted = {
        "soak": {"kind": "test-round", "title": "Soak", "rule": {**DAILY, "wall_times": ["16:30"]}},
        "meal": {"kind": "test-round", "title": "Meal", "rule": DAILY},
    }
    for fields in wanted.values():
        fields |= {"subject_type": "litter", "subject_uid": str(scene.litter)}
    with scene.write() as opened:
        first = routines_set("feeding-plan", source, wanted, opened)
    with scene.write(AT + minutes(1)) as opened:
        assert routines_set("feeding-plan", source, wanted, opened) == first
    assert {r["version"] for r in scene.rows("SELECT * FROM duties_routine WHERE kennel_id = %(k)s")} == {1}
    del wanted["soak"]
    wanted["meal"]["rule"] = {**DAILY, "wall_times": ["17:15"]}
    with scene.write(AT + minutes(2)) as opened:
        assert routines_set("feeding-plan", source, wanted, opened) == first[1:]
    assert {d["title"] for d in scene.duties("state = 'open'")} == {"Meal"}
    assert {d["due_at"].minute for d in scene.duties("state = 'open'")} == {15}


def test_a_routine_about_nothing_in_this_kennel_is_refused(scene: Scene) -> None:
    elsewhere = Scene()
    with pytest.raises(Refusal) as refused:
        scene.routine(subject_uid=str(elsewhere.litter))
    assert refused.value.slug == "parent-missing"
    assert scene.duties() == []


def test_planning_costs_the_same_for_3_and_30_animals(scene: Scene, count_queries: CountQueries) -> None:
    counts = []
    for pups in (3, 30):
        kennel = Scene(pups=pups)
        kennel.routine()
        with kennel.write(AT + timedelta(hours=6)) as opened, count_queries() as counted:
            planning.replan(planning.routines_of(opened, subjects=[("litter", kennel.litter)]), opened)
        counts.append(len(counted))
    assert counts[0] == counts[1] <= 20


def test_only_people_who_act_are_members_of_the_ladder(scene: Scene) -> None:
    assert scene.actor(scene.piet).role == Role.READER
    scene.routine()
    scene.release(utc("2026-02-03 17:00"))
    assert scene.piet.name not in {m["carer"] for m in scene.messages("inbox")}
