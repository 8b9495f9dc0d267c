"""Done is the recorded fact: it settles animals, closes duties, calls off what is unsent, all at once."""

from datetime import timedelta

import pytest

from kennel.duties.services import completing
from kennel.duties.services.completing import Done
from kennel.records import service, types
from kennel.records.ids import new_uid
from tests.kennel.duties.scenes import DAILY, CountQueries, Scene, minutes, utc

pytestmark = pytest.mark.usefixtures("weighings_close_duties")
DUE = utc("2026-02-03 17:00")


def test_facts_settle_animal_by_animal_and_the_last_closes_the_duty(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    duty = scene.duties()[0]
    scene.weigh(scene.pups[0], DUE + minutes(1), scene.idris)
    scene.weigh(scene.pups[2], DUE + minutes(2), scene.oona)
    assert scene.animals(duty["uid"]) == {"moss": "done", "rust": "outstanding", "slate": "done"}
    assert (scene.duties()[0]["state"], scene.duties()[0]["outstanding"]) == ("open", 1)
    scene.weigh(scene.pups[1], DUE + minutes(3))
    closed = scene.duties()[0]
    assert (closed["state"], closed["outstanding"], closed["closed_at"]) == ("closed", 0, DUE + minutes(3))


def test_closing_calls_off_unsent_messages_in_the_same_transaction(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    scene.send(DUE, "inbox")
    with scene.write(DUE + minutes(1)) as opened:
        done = [Done(new_uid(), "pup", pup, opened.at) for pup in scene.pups]
        completed = completing.complete("weighing", done, opened)
    assert {c.is_closed for c in completed} == {True}
    states = {(m["channel"], m["step"], m["state"]) for m in scene.messages("inbox")}
    assert states == {("inbox", 0, "accepted"), ("inbox", 1, "cancelled")}


def test_a_fact_settles_the_nearest_duty_of_its_hour(scene: Scene) -> None:
    scene.routine(rule={**DAILY, "wall_times": ["13:00", "14:30"]})
    scene.weigh(scene.pups[0], utc("2026-02-03 13:40"))
    scene.weigh(scene.pups[1], utc("2026-02-03 13:50"))
    first, second = scene.duties()[:2]
    assert scene.animals(first["uid"])["moss"] == "done"
    assert scene.animals(second["uid"])["rust"] == "done"
    assert scene.animals(first["uid"])["rust"] == "outstanding"


def test_a_fact_long_before_or_long_after_settles_nothing(scene: Scene) -> None:
    scene.routine()
    scene.weigh(scene.pups[0], utc("2026-02-03 15:59"))
    scene.weigh(scene.pups[1], utc("2026-02-03 18:01"))
    assert set(scene.animals(scene.duties()[0]["uid"]).values()) == {"outstanding"}


def test_a_fact_recorded_late_closes_the_missed_duty_of_its_own_hour(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    scene.release(DUE + timedelta(hours=2))
    assert scene.duties()[0]["state"] == "missed"
    for pup in scene.pups:
        scene.weigh(pup, DUE + minutes(10), recorded_at=DUE + timedelta(hours=5))
    assert (scene.duties()[0]["state"], scene.duties()[0]["closed_at"]) == ("closed", DUE + minutes(10))


def test_a_fact_may_name_its_duty_and_may_be_held_to_kinds_and_values(scene: Scene) -> None:
    scene.routine(rule={**DAILY, "wall_times": ["13:00", "17:00"]})
    first, second = scene.duties()[:2]
    pup = scene.pups[0]
    with scene.write(utc("2026-02-03 13:05")) as opened:
        named = Done(new_uid(), "pup", pup, opened.at, duty=second["uid"])
        assert [c.duty_uid for c in completing.complete("weighing", [named], opened)] == [second["uid"]]
        other_kind = Done(new_uid(), "pup", pup, opened.at, kinds=("test-weigh",))
        assert completing.complete("weighing", [other_kind], opened) == []
        other_value = Done(new_uid(), "pup", pup, opened.at, match={"dry_g": 121})
        assert completing.complete("weighing", [other_value], opened) == []
        same_value = Done(new_uid(), "pup", pup, opened.at, match={"dry_g": 120})
        assert [c.duty_uid for c in completing.complete("weighing", [same_value], opened)] == [first["uid"]]
        assert completing.complete("meal", [same_value], opened) == []


def test_one_fact_settles_a_duty_of_each_kind_it_stands_for(scene: Scene) -> None:
    scene.routine()
    scene.routine(kind="test-weigh")
    scene.weigh(scene.pups[0], DUE)
    assert [scene.animals(d["uid"])["moss"] for d in scene.duties()[:2]] == ["done", "done"]


def test_a_deleted_fact_opens_the_duty_again_and_brings_back_its_messages(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    made = [scene.weigh(pup, DUE + minutes(1)) for pup in scene.pups]
    assert scene.duties()[0]["state"] == "closed"
    scene.remove("weighing", made[1], DUE + minutes(2))
    duty = scene.duties()[0]
    assert (duty["state"], duty["outstanding"], duty["closed_at"]) == ("open", 1, None)
    assert {m["state"] for m in scene.messages("inbox")} == {"pending"}


def test_a_deleted_fact_of_yesterday_leaves_a_missed_duty_not_an_open_one(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    made = [scene.weigh(pup, DUE + minutes(1)) for pup in scene.pups]
    scene.remove("weighing", made[1], DUE + timedelta(days=1))
    assert scene.duties()[0]["state"] == "missed"


def test_a_duty_done_ahead_is_not_planned_again_or_announced(scene: Scene) -> None:
    scene.routine()
    for pup in scene.pups:
        scene.weigh(pup, DUE - minutes(30))
    scene.replan(DUE - minutes(20))
    assert scene.release(DUE).released == 0
    assert scene.duties()[0]["state"] == "closed"


def test_when_the_transaction_fails_nothing_was_settled_or_called_off(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)

    class Broken(Exception):
        pass

    def complete_and_break() -> None:
        with scene.write(DUE + minutes(1)) as opened:
            done = [Done(new_uid(), "pup", pup, opened.at) for pup in scene.pups]
            assert len(completing.complete("weighing", done, opened)) == 3
            raise Broken

    with pytest.raises(Broken):
        complete_and_break()
    assert set(scene.animals(scene.duties()[0]["uid"]).values()) == {"outstanding"}
    assert {m["state"] for m in scene.messages("inbox")} == {"pending"}


def test_completing_costs_the_same_for_3_and_30_animals(scene: Scene, count_queries: CountQueries) -> None:
    counts = []
    for pups in (3, 30):
        kennel = Scene(pups=pups)
        kennel.routine()
        weighing = types.by_name("weighing")
        assert weighing is not None
        given = [{"pup": str(p), "occurred_at": DUE.isoformat(), "weight_g": 900} for p in kennel.pups]
        items = [
            service.NewRecord(n, new_uid(), service.check(weighing.input, data))
            for n, data in enumerate(given)
        ]
        with kennel.write(DUE) as opened, count_queries() as counted:
            service.create(weighing, items, opened)
        assert kennel.duties()[0]["state"] == "closed"
        counts.append(len(counted))
    assert counts[0] == counts[1]
