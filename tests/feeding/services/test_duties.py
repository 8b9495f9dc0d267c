"""Soaks, meals and bottle rounds: planned from the feeding plan, following the facts, closed by the meal."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.kennel.duties.scenes import AT, Scene, utc

pytestmark = pytest.mark.usefixtures("db")
FOUR_WEEKS = utc("2026-02-04 12:00")  # whelped on 7 January: day 28


class Feeding(Scene):
    """Hollin Bank with a litter, a food and a feeding plan."""

    def __init__(self, pups: int = 8, zone: str = "Europe/London", **plan: Any) -> None:
        super().__init__(zone, pups)
        for pup in self.pups:
            self.weigh_in(pup, 1800, AT - timedelta(hours=4))
        self.food = self.create("food", {"name": "Puppy dry", "printed_kcal_per_kg": 3800})
        self.plan_uid = self.create(
            "feeding-plan",
            {"litter": str(self.litter), "food": str(self.food), "expected_adult_kg": 19, **plan},
        )

    def weigh_in(self, pup: UUID, grams: float, at: datetime) -> UUID:
        """A weight of a pup."""
        return self.create(
            "weighing", {"pup": str(pup), "weight_g": grams, "occurred_at": at.isoformat()}, at
        )

    def leave(self, pup: UUID, at: datetime) -> None:
        """A pup goes home."""
        self.create("departure", {"pup": str(pup), "kind": "sold", "occurred_at": at.isoformat()}, at)

    def meal(self, at: datetime, **data: Any) -> UUID:
        """A recorded meal."""
        given = {"litter": str(self.litter), "dry_g": 50, "water_ml": 250, "occurred_at": at.isoformat()}
        return self.create("meal", {**given, **data}, at, self.idris)

    def of(self, kind: str, day: str, state: str = "open") -> list[dict[str, Any]]:
        """Duties of a kind on a day (UTC) in a state."""
        return self.duties(f"kind = '{kind}' AND state = '{state}' AND due_at::date = '{day}'")


def _asks(duty: dict[str, Any]) -> dict[str, Any]:
    import json

    asks = duty["asks"]
    return dict(json.loads(asks) if isinstance(asks, str) else asks)


def _clock(duties: list[dict[str, Any]]) -> list[str]:
    return [f"{duty['due_at']:%H:%M}" for duty in duties]


def test_soaks_and_meals_are_planned_72_hours_ahead_with_what_they_stand_on() -> None:
    scene = Feeding()
    assert scene.of("meal", "2026-02-03") == []  # day 27: milk only
    assert _clock(scene.of("meal", "2026-02-04")) == ["08:00", "17:00"]
    assert _clock(scene.of("soak", "2026-02-04")) == ["06:00", "15:00"]
    assert scene.of("meal", "2026-02-07") == []
    meal = scene.of("meal", "2026-02-04")[1]
    asks = _asks(meal)
    # NRC 2006 Table 15-2: 130 x 1.8^0.75 x 3.2 x (e^(-0.87 x 1.8/19) - 0.1) each; 25 %, two meals, eight pups.
    need = 130 * 1.8**0.75 * 3.2 * (2.718281828 ** (-0.87 * 1.8 / 19) - 0.1)
    assert asks["energy_kcal"] == pytest.approx(8 * need * 0.25 / 2, abs=0.5)
    assert asks["dry_g"] == pytest.approx(8 * need * 0.25 / 2 / 3.8, abs=0.5)
    assert [weight["weight_g"] for weight in asks["weights"]] == [1800] * 8
    assert scene.animals(meal["uid"]) == dict.fromkeys(
        ("moss", "rust", "slate", "straw", "plum", "fern", "clay", "sky"), "outstanding"
    )
    soak = scene.of("soak", "2026-02-04")[1]
    assert _asks(soak)["water_ml"] == asks["water_ml"]
    assert soak["text"].startswith("Soak for 17:00, Bramble's, 8 pups: ")


def test_an_amount_is_rounded_once() -> None:
    scene = Feeding(pups=1)
    scene.weigh_in(scene.pups[0], 1505, AT)
    scene.plan(AT + timedelta(minutes=1))
    # By the same formula: 58.886 kcal, 15.496 g of food of 3,800 kcal/kg, at 0.4 g/mL 38.741 mL, so 77.482 mL of
    # water; rounded to 77.5 and then again it would be 78 mL.
    asks = _asks(scene.of("meal", "2026-02-04")[1])
    assert (asks["energy_kcal"], asks["dry_g"], asks["water_ml"]) == (59, 15, 77)


def test_three_pups_leave_at_14_and_the_17_o_clock_bowl_shrinks() -> None:
    scene = Feeding()
    before = _asks(scene.of("meal", "2026-02-04")[1])
    for pup in scene.pups[:3]:
        scene.leave(pup, utc("2026-02-04 14:00"))
    after = scene.of("meal", "2026-02-04")[1]
    assert _asks(after)["dry_g"] == pytest.approx(before["dry_g"] * 5 / 8, rel=0.01)
    assert _asks(after)["pups"] == 5
    assert list(scene.animals(after["uid"])) == ["straw", "plum", "fern", "clay", "sky"]
    assert _asks(scene.of("soak", "2026-02-04")[1])["pups"] == 5


def test_planning_again_without_news_writes_nothing() -> None:
    scene = Feeding()
    before = {duty["uid"]: duty["version"] for duty in scene.duties()}
    scene.replan(AT + timedelta(minutes=1))
    assert {duty["uid"]: duty["version"] for duty in scene.duties()} == before


def test_new_weights_and_another_plan_change_what_lies_ahead() -> None:
    scene = Feeding()
    before = _asks(scene.of("meal", "2026-02-05")[0])["energy_kcal"]
    for pup in scene.pups:
        scene.weigh_in(pup, 2000, AT + timedelta(minutes=1))
    scene.plan(AT + timedelta(minutes=2))
    heavier = _asks(scene.of("meal", "2026-02-05")[0])
    assert heavier["energy_kcal"] > before * 1.03
    assert heavier["weights"][0]["weight_g"] == 2000
    scene.change("feeding-plan", scene.plan_uid, {"method": "growth_klein"}, AT + timedelta(minutes=3))
    assert _asks(scene.of("meal", "2026-02-05")[0])["method"].startswith("growth_klein")
    stages = [{"from_day": 28, "wall_times": ["09:30"], "share_from_food": 0.25}]
    scene.change("feeding-plan", scene.plan_uid, {"stages": stages}, AT + timedelta(minutes=4))
    assert _clock(scene.of("meal", "2026-02-05")) == ["09:30"]
    assert scene.of("soak", "2026-02-05") == []
    scene.change("food", scene.food, {"printed_kcal_per_kg": 1900}, AT + timedelta(minutes=5))
    grams = _asks(scene.of("meal", "2026-02-05")[0])["dry_g"]
    scene.plan(AT + timedelta(minutes=6))
    assert _asks(scene.of("meal", "2026-02-05")[0])["dry_g"] == pytest.approx(2 * grams, rel=0.01)
    scene.change("feeding-plan", scene.plan_uid, {"ended_on": "2026-02-05"}, AT + timedelta(minutes=7))
    assert scene.of("meal", "2026-02-05") == []
    assert _clock(scene.of("meal", "2026-02-04")) == ["09:30"]
    scene.remove("feeding-plan", scene.plan_uid, AT + timedelta(minutes=8))
    assert scene.of("meal", "2026-02-04") == []


def test_recording_the_meal_closes_it_for_everybody_and_calls_off_what_was_not_sent() -> None:
    scene = Feeding()
    due_at = utc("2026-02-04 17:00")
    meal = scene.of("meal", "2026-02-04")[1]
    soak = scene.of("soak", "2026-02-04")[1]
    scene.release(utc("2026-02-04 15:00"))
    scene.release(due_at)
    pending = scene.messages("inbox", f"d.uid = '{meal['uid']}' AND r.state = 'pending'")
    assert len({message["carer"] for message in pending}) >= 3
    recorded = scene.meal(due_at + timedelta(minutes=4), absent=[str(scene.pups[0])])
    assert set(scene.animals(meal["uid"]).values()) == {"done"}
    assert [d["uid"] for d in scene.of("meal", "2026-02-04", "closed")] == [meal["uid"]]
    left = scene.messages("inbox", f"d.uid IN ('{meal['uid']}', '{soak['uid']}') AND r.state = 'pending'")
    assert left == []
    scene.remove("meal", recorded, due_at + timedelta(minutes=6))
    assert set(scene.animals(meal["uid"]).values()) == {"outstanding"}


def test_the_soak_of_a_meal_that_was_eaten_is_done_too() -> None:
    scene = Feeding()
    scene.release(utc("2026-02-04 06:00"))
    soak = scene.of("soak", "2026-02-04")[0]
    scene.meal(utc("2026-02-04 07:50"))
    assert soak["uid"] in [d["uid"] for d in scene.of("soak", "2026-02-04", "closed")]
    assert _clock(scene.of("soak", "2026-02-04")) == ["15:00"]
    assert _clock(scene.of("meal", "2026-02-04")) == ["17:00"]


def test_a_soak_is_done_by_a_tap_and_leaves_the_meal_open() -> None:
    scene = Feeding()
    scene.release(utc("2026-02-04 06:00"))
    soak = scene.of("soak", "2026-02-04")[0]
    scene.act(soak["uid"], "done", scene.oona, utc("2026-02-04 06:10"))
    assert soak["uid"] in [d["uid"] for d in scene.of("soak", "2026-02-04", "closed")]
    assert _clock(scene.of("meal", "2026-02-04")) == ["08:00", "17:00"]


def test_adding_what_came_back_neither_opens_nor_closes_anything() -> None:
    scene = Feeding()
    meal = scene.meal(utc("2026-02-04 08:05"))
    closed = scene.of("meal", "2026-02-04", "closed")
    scene.change(
        "meal", meal, {"left_wet_g": 120, "reason": "Weighed what came back."}, utc("2026-02-04 08:40")
    )
    assert scene.of("meal", "2026-02-04", "closed") == closed
    assert _clock(scene.of("meal", "2026-02-04")) == ["17:00"]


def test_a_second_meal_soon_after_does_not_settle_the_next_one() -> None:
    scene = Feeding()
    scene.meal(utc("2026-02-04 16:10"))
    assert _clock(scene.of("meal", "2026-02-04", "closed")) == ["17:00"]
    scene.meal(utc("2026-02-04 16:40"))
    assert _clock(scene.of("meal", "2026-02-05")) == ["08:00", "17:00"]


def test_meals_stay_at_the_wall_time_when_the_clocks_change() -> None:
    # Clocks in Europe/London go forward on 29 March 2026 at 01:00 UTC.
    scene = Feeding(pups=1, stages=[{"from_day": 28, "wall_times": ["08:00"], "share_from_food": 0.25}])
    scene.plan(utc("2026-03-27 12:00"))
    assert _clock(scene.of("meal", "2026-03-28")) == ["08:00"]
    assert _clock(scene.of("meal", "2026-03-29")) == ["07:00"]


def test_a_soak_for_a_meal_after_midnight_begins_the_evening_before() -> None:
    stage = {
        "from_day": 28,
        "wall_times": ["01:00", "13:00"],
        "share_from_food": 0.25,
        "soak": {"food_parts": 1, "water_parts": 2},
    }
    scene = Feeding(stages=[stage])
    assert _clock(scene.of("soak", "2026-02-03")) == ["23:00"]
    assert _clock(scene.of("soak", "2026-02-04")) == ["11:00", "23:00"]
    first = scene.of("soak", "2026-02-03")[0]
    assert first["text"].startswith("Soak for 01:00, ")


def test_bottle_rounds_name_the_hand_fed_pups_and_no_volume_before_a_temperature() -> None:
    scene = Feeding(pups=3)
    milk = scene.create("food", {"name": "Milk", "kind": "replacer", "milk_kcal_per_ml": 1})
    scene.change("pup", scene.pups[0], {"rearing": "hand_fed"})
    scene.change("litter", scene.litter, {"whelped_at": "2026-01-30T03:00:00Z"})
    for pup in scene.pups:
        scene.change("pup", pup, {"born_at": "2026-01-30T03:00:00Z"})
    scene.change("feeding-plan", scene.plan_uid, {"milk": str(milk), "bottle_every_minutes": 180})
    rounds = scene.duties("kind = 'bottle-round' AND state = 'open'")
    assert len(rounds) >= 23  # every 3 h for 72 h
    assert rounds[1]["due_at"] - rounds[0]["due_at"] == timedelta(hours=3)
    assert list(scene.animals(rounds[0]["uid"])) == ["moss"]
    assert "mL" not in rounds[0]["text"]
    at = rounds[0]["due_at"]
    scene.create(
        "bottle-feed",
        {"pup": str(scene.pups[0]), "taken_ml": 20, "temp_c": 36.5, "occurred_at": at.isoformat()},
        at,
    )
    assert scene.animals(rounds[0]["uid"]) == {"moss": "done"}
    assert scene.animals(rounds[1]["uid"]) == {"moss": "outstanding"}


def test_pups_that_were_born_or_died_change_the_next_bowl() -> None:
    scene = Feeding(pups=3)
    scene.change(
        "pup", scene.pups[0], {"fate": "died", "died_at": "2026-02-03T11:00:00Z"}, AT + timedelta(minutes=1)
    )
    assert _asks(scene.of("meal", "2026-02-04")[0])["pups"] == 2


def test_pups_without_a_weight_are_named_and_cautioned() -> None:
    scene = Feeding(pups=2)
    late = scene.create(
        "pup", {"litter": str(scene.litter), "band": "wheat", "born_at": "2026-01-07T04:00:00Z"}
    )
    meal = scene.of("meal", "2026-02-04")[0]
    assert scene.animals(meal["uid"]).get("wheat") == "outstanding"
    assert "wheat is left out of the amounts: no weight." in str(meal["cautions"])
    assert late is not None


@contextmanager
def _counted() -> Iterator[CaptureQueriesContext]:
    with CaptureQueriesContext(connection) as captured:
        yield captured


def test_planning_three_and_thirty_pups_costs_the_same_queries() -> None:
    counts = []
    for pups in (3, 30):
        scene = Feeding(pups=pups)
        with _counted() as captured:
            scene.replan(AT + timedelta(minutes=1))
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_a_meal_of_three_and_of_thirty_pups_costs_the_same_queries() -> None:
    counts = []
    for pups in (3, 30):
        scene = Feeding(pups=pups)
        with _counted() as captured:
            scene.meal(utc("2026-02-04 08:05"))
        counts.append(len(captured))
    assert counts[0] == counts[1]
