"""Bottles: temperature, then suck, only then a volume; what really happened is kept."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.factories.people import Place, make_kennel
from tests.feeding.world import MILK, Nest, add, make_nest

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def nest(place: Place) -> Nest:
    return _hand_fed(place, 1)


def _hand_fed(place: Place, pups: int, weight_g: float = 300) -> Nest:
    nest = make_nest(place, days_old=4, pups=pups, weight_g=weight_g)
    milk = add(nest.client, "foods", **MILK)
    plan = nest.client.get(f"feeding-plans/{nest.plan}").json()
    changed = {"milk": milk, "milk_need": "handbook"}
    assert nest.client.patch(f"feeding-plans/{nest.plan}", changed, plan["version"]).status_code == 200
    for uid in nest.pups.values():
        pup = nest.client.get(f"pups/{uid}").json()
        assert nest.client.patch(f"pups/{uid}", {"rearing": "hand_fed"}, pup["version"]).status_code == 200
    return nest


def _feed(nest: Nest, **data: Any) -> dict[str, Any]:
    given = {"pup": nest.pups["moss"], "occurred_at": timezone.now().isoformat(), "taken_ml": 6, **data}
    answer = nest.client.post("bottle-feeds", given)
    assert answer.status_code == 201, answer.content
    shown: dict[str, Any] = answer.json()
    return shown


def test_a_young_pup_without_a_temperature_is_measured_first_and_no_volume_is_shown(nest: Nest) -> None:
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle")
    assert (bottle["step"], bottle["feed"]) == ("measure_first", None)
    assert "mL" not in " ".join([*bottle["reasons"], *bottle["cautions"]])


def test_a_cold_pup_is_warmed_and_no_volume_is_shown(nest: Nest) -> None:
    at = (timezone.now() - timedelta(minutes=10)).isoformat()
    add(nest.client, "temperatures", pup=nest.pups["moss"], temp_c=33.9, occurred_at=at)
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle")
    # Below 35 °C in the first week the gut stands still (The Veterinary Nurse, 2016): warm first, no milk.
    assert (bottle["step"], bottle["feed"]) == ("warm_first", None)
    warm = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.2&is_sucking=true")
    assert (warm["step"], warm["temp_c"]) == ("feed", 36.2)


def test_a_warm_sucking_pup_gets_the_handbooks_volume_within_its_stomach(nest: Nest) -> None:
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.0&is_sucking=true")
    # Dog Owner's Home Veterinary Handbook p. 499: 60 kcal/lb = 13.2 kcal/100 g and 6 feeds in week 1; 300 g at
    # 1.0 kcal/mL: 39.6 mL a day, 6.6 mL a feed; stomach 4 mL/100 g = 12 mL (breeder reproduction text).
    assert bottle["feed"]["volume_ml_per_day"] == pytest.approx(39.6)
    assert bottle["feed"]["volume_ml"] == pytest.approx(6.6)
    assert (bottle["feed"]["feeds_per_day"], bottle["feed"]["stomach_limit_ml"]) == (6, 12)
    assert "p. 499" in bottle["source"]


def test_a_warm_pup_that_does_not_suck_is_a_case_for_the_vet(nest: Nest) -> None:
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.0&is_sucking=false")
    assert (bottle["step"], bottle["feed"]) == ("vet", None)


def test_a_pup_that_lost_weight_shows_its_suck_before_a_volume_is_shown(nest: Nest) -> None:
    nest.weigh("moss", 290, hours_ago=0.5)
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.0")
    assert (bottle["weight_is_falling"], bottle["step"], bottle["feed"]) == (True, "test_suck", None)


def test_a_pup_that_also_sucks_needs_the_kennels_share(nest: Nest) -> None:
    pup = nest.client.get(f"pups/{nest.pups['moss']}").json()
    nest.client.patch(f"pups/{nest.pups['moss']}", {"rearing": "topped_up"}, pup["version"])
    bottle = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.0&is_sucking=true")
    assert (bottle["step"], bottle["feed"]) == (None, None)
    assert bottle["reason"].startswith("It sucks from the dam")
    half = nest.get(f"pups/{nest.pups['moss']}/bottle?temp_c=36.0&is_sucking=true&share=0.5")
    assert half["feed"]["volume_ml_per_day"] == pytest.approx(19.8)


def test_a_bottle_given_to_a_cold_pup_is_kept_with_its_warning(nest: Nest) -> None:
    feed = _feed(nest, temp_c=33.5)
    assert [w["code"] for w in feed["warnings"]] == ["cold"]
    assert "below 35.0 °C" in feed["warnings"][0]["text"]
    assert nest.client.get(f"bottle-feeds/{feed['uid']}").json()["taken_ml"] == 6


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ({}, "no_temperature"),
        ({"temp_c": 36, "is_sucking": False}, "not_sucking"),
        ({"temp_c": 36, "taken_ml": 13}, "over_stomach_limit"),
        ({"temp_c": 36, "offered_ml": 5}, "more_taken"),
    ],
)
def test_advice_about_a_feed_stays_beside_it(nest: Nest, data: dict[str, Any], code: str) -> None:
    assert [w["code"] for w in _feed(nest, **data)["warnings"]] == [code]


def test_a_temperature_taken_shortly_before_counts_and_a_second_feed_is_named(nest: Nest) -> None:
    at = (timezone.now() - timedelta(minutes=50)).isoformat()
    add(nest.client, "temperatures", pup=nest.pups["moss"], temp_c=36.4, occurred_at=at)
    first = _feed(nest, occurred_at=(timezone.now() - timedelta(minutes=20)).isoformat(), urine_seen=True)
    assert (first["warnings"], first["urine_seen"], first["stool_seen"]) == ([], True, False)
    second = _feed(nest)
    assert [w["code"] for w in second["warnings"]] == ["fed_near"]
    assert second["possible_duplicate_of"] == first["uid"]


def test_only_nonsense_is_refused(nest: Nest) -> None:
    for data in ({"taken_ml": -1}, {"temp_c": 20}, {"taken_ml": 6, "pup": nest.litter}):
        given = {"pup": nest.pups["moss"], "occurred_at": timezone.now().isoformat(), "taken_ml": 6, **data}
        assert nest.client.post("bottle-feeds", given).status_code in (409, 422), data


def test_many_feeds_in_a_batch_cost_no_more_queries_than_few(place: Place) -> None:
    counts = []
    for pups in (3, 30):
        nest = _hand_fed(place, pups)
        items = [
            {
                "op": "create",
                "type": "bottle-feed",
                "data": {"pup": uid, "taken_ml": 5, "temp_c": 36, "occurred_at": timezone.now().isoformat()},
            }
            for uid in nest.pups.values()
        ]
        with CaptureQueriesContext(connection) as captured:
            results = nest.client.post("batch", {"items": items}).json()["results"]
        assert {r["outcome"] for r in results} == {"created"}
        counts.append(len(captured))
    assert counts[0] == counts[1]
