"""Meals: kept whatever advice says; who fed shortly before is named; journal, feed and sending twice."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from kennel.people.choices import Role
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.feeding.world import Nest, add, make_nest

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def nest(place: Place) -> Nest:
    return make_nest(place, days_old=60, pups=2)


def _codes(shown: dict[str, Any]) -> list[str]:
    return [warning["code"] for warning in shown["warnings"]]


def test_a_meal_keeps_the_plan_it_was_measured_against_and_the_food_of_the_plan(nest: Nest) -> None:
    meal = nest.meal(minutes_ago=5, dry_g=140, water_ml=117, absent=[nest.pups["rust"]])
    # Two pups of 5 kg, adult 30 kg: 2 x 1064 kcal (NRC 2006) / 4 meals / 3.8 kcal/g.
    assert meal["planned_dry_g"] == pytest.approx(140, rel=0.001)
    assert meal["planned_energy_kcal"] == pytest.approx(532, rel=0.001)
    assert (meal["food"], meal["bowls"], meal["absent"]) == (nest.food, 1, [nest.pups["rust"]])
    assert meal["warnings"] == []


def test_a_second_meal_soon_after_is_kept_and_names_who_and_when(place: Place, nest: Nest) -> None:
    idris = DeviceClient(place, carer=add_member(place, Role.CARER))
    at = timezone.now() - timedelta(minutes=40)
    first = add(idris, "meals", litter=nest.litter, dry_g=140, water_ml=117, occurred_at=at.isoformat())
    second = nest.meal(minutes_ago=5, dry_g=140, water_ml=117)
    assert second["possible_duplicate_of"] == first
    warning = next(w for w in second["warnings"] if w["code"] == "fed_near")
    who = idris.get(f"meals/{first}").json()
    assert (who["recorded_by"] or who["recorded_device"]) in warning["text"]
    assert "35 min before this, at" in warning["text"]
    later = nest.meal(minutes_ago=5 + 24 * 60, dry_g=140, water_ml=117)
    assert later["possible_duplicate_of"] is None


def test_the_time_that_counts_as_soon_after_is_the_plans(nest: Nest) -> None:
    plan = nest.client.get(f"feeding-plans/{nest.plan}").json()
    nest.client.patch(f"feeding-plans/{nest.plan}", {"warn_within_minutes": 20}, plan["version"])
    nest.meal(minutes_ago=40, dry_g=70)
    assert "fed_near" not in _codes(nest.meal(minutes_ago=5, dry_g=70))
    assert "fed_near" in _codes(nest.meal(minutes_ago=1, dry_g=70))


def test_two_meals_of_one_batch_are_compared_too(nest: Nest) -> None:
    now = timezone.now()
    items = [
        {
            "op": "create",
            "type": "meal",
            "uid": str(new_uid()),
            "data": {
                "litter": nest.litter,
                "dry_g": 70,
                "occurred_at": (now - timedelta(minutes=m)).isoformat(),
            },
        }
        for m in (30, 10)
    ]
    results = nest.client.post("batch", {"items": items}).json()["results"]
    assert [r["outcome"] for r in results] == ["created", "created"]
    shown = [nest.client.get(f"meals/{item['uid']}").json() for item in items]
    assert (_codes(shown[0]), _codes(shown[1])) == ([], ["fed_near"])
    assert shown[1]["possible_duplicate_of"] == shown[0]["uid"]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ({"dry_g": 50, "water_ml": 20, "left_wet_g": 90}, "more_left"),
        ({"dry_g": 400}, "far_above"),
    ],
)
def test_what_looks_wrong_is_kept_with_a_warning(nest: Nest, data: dict[str, Any], code: str) -> None:
    assert _codes(nest.meal(minutes_ago=5, **data)) == [code]


def test_a_meal_without_a_plan_and_an_absent_pup_of_another_litter_are_kept(place: Place, nest: Nest) -> None:
    dam = add(nest.client, "dogs", name="Sorrel", sex="female")
    other = add(nest.client, "litters", name="Sorrel's", dam=dam, whelped_at=nest.whelped_at.isoformat())
    answer = nest.client.post(
        "meals",
        {
            "litter": other,
            "dry_g": 50,
            "occurred_at": timezone.now().isoformat(),
            "absent": [nest.pups["moss"]],
        },
    )
    assert answer.status_code == 201
    assert set(_codes(answer.json())) == {"no_ration", "not_of_litter"}
    assert answer.json()["planned_dry_g"] is None


@pytest.mark.parametrize(
    ("data", "pointer"),
    [
        ({"dry_g": -1}, "#/dry_g"),
        ({"dry_g": 10, "left_wet_g": -2}, "#/left_wet_g"),
        ({"dry_g": 10, "bowls": 0}, "#/bowls"),
        ({"dry_g": 10, "flavour": "x"}, "#/flavour"),
        ({}, "#/dry_g"),
    ],
)
def test_only_nonsense_is_refused(nest: Nest, data: dict[str, Any], pointer: str) -> None:
    answer = nest.client.post(
        "meals", {"litter": nest.litter, "occurred_at": timezone.now().isoformat(), **data}
    )
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer)


def test_what_came_back_is_added_later_with_a_reason_and_both_stand_in_the_history(nest: Nest) -> None:
    meal = nest.meal(minutes_ago=30, dry_g=140, water_ml=117)
    bare = nest.client.patch(f"meals/{meal['uid']}", {"left_wet_g": 40}, meal["version"])
    assert bare.status_code == 422
    told = {"left_wet_g": 40, "reason": "Weighed what came back."}
    added = nest.client.patch(f"meals/{meal['uid']}", told, meal["version"])
    assert added.status_code == 200, added.content
    assert added.json()["planned_dry_g"] == meal["planned_dry_g"]
    assert added.json()["food"] == nest.food
    versions = nest.client.get(f"meals/{meal['uid']}/history").json()["results"]
    assert len(versions) == 2


def test_sending_a_meal_twice_makes_one_and_the_feed_and_journal_hold_it_once(nest: Nest) -> None:
    data = {
        "uid": str(new_uid()),
        "litter": nest.litter,
        "dry_g": "140.0",
        "water_ml": 117,
        "absent": [nest.pups["moss"]],
        "occurred_at": (timezone.now() - timedelta(minutes=3)).isoformat(),
    }
    first, second = nest.client.post("meals", data), nest.client.post("meals", data)
    assert (first.status_code, second.status_code, second["Replayed"]) == (201, 200, "true")
    other = nest.client.post("meals", {**data, "dry_g": 150})
    assert other.status_code == 409
    changes = nest.client.get("changes?limit=500").json()["changes"]
    assert [c["op"] for c in changes if c["type"] == "meal"] == ["upsert"]
    journal = nest.client.get("journal?limit=200").json()["results"]
    assert [entry["op"] for entry in journal if entry["uid"] == data["uid"]] == ["create"]
    assert {c["type"] for c in changes} >= {"food", "feeding-plan", "meal"}


def test_meals_of_other_kennels_do_not_exist_and_readers_may_not_feed(place: Place, nest: Nest) -> None:
    meal = nest.meal(minutes_ago=5, dry_g=140)
    elsewhere = DeviceClient(make_kennel("Elsewhere"))
    assert elsewhere.get(f"meals/{meal['uid']}").status_code == 404
    given = {"litter": nest.litter, "dry_g": 10, "occurred_at": timezone.now().isoformat()}
    assert elsewhere.post("meals", given).json()["type"] == "/problems/parent-missing"
    reader = DeviceClient(place, carer=add_member(place, Role.READER))
    assert reader.post("meals", given).status_code == 403
    assert reader.get(f"meals/{meal['uid']}").status_code == 200
