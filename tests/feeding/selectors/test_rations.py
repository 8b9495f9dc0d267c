"""Rations of many litters and instants at once, and what a day's feeding adds up to."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from feeding.rations import MealAsked, next_meal_at, rations_at
from feeding.selectors import Ask, litter_facts
from kennel.clock.wall_clock import local_day
from kennel.records import door
from litters.rollup.services import computing
from tests.factories.people import Place, make_kennel
from tests.feeding.services.test_duties import Feeding
from tests.feeding.world import Nest, make_nest
from tests.kennel.duties.scenes import utc

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def test_one_litter_and_three_at_many_instants_cost_the_same_single_query(place: Place) -> None:
    nests = [make_nest(place, days_old=60, pups=n) for n in (1, 2, 3)]
    counts = []
    for asked in (nests[:1], nests):
        with door.read(place.here, place.actor, timezone.now()) as opened:
            meals = [
                MealAsked(UUID(nest.litter), opened.at + timedelta(hours=hours))
                for nest in asked
                for hours in (-30, 0, 8, 60)
            ]
            with CaptureQueriesContext(connection) as captured:
                found = rations_at(meals, opened)
        assert [len(one.facts.pups) for one in found if one is not None][-1] == len(asked[-1].pups)
        counts.append(len(captured))
    assert counts == [1, 1]


def test_an_unknown_litter_has_no_ration_and_an_earlier_instant_sees_only_what_was_known(
    place: Place,
) -> None:
    nest = make_nest(place, days_old=60, pups=1)
    with door.read(place.here, place.actor, timezone.now()) as opened:
        unknown, now, before = rations_at(
            [
                MealAsked(UUID(nest.plan), opened.at),
                MealAsked(UUID(nest.litter), opened.at),
                MealAsked(UUID(nest.litter), opened.at - timedelta(hours=2)),
            ],
            opened,
        )
    assert unknown is None
    assert now is not None
    assert now.ration is not None
    assert now.ration.per_meal is not None
    assert before is not None
    assert before.ration is not None
    assert before.ration.per_meal is None
    assert [left.reason for left in before.ration.left_out] == ["no weight"]


def test_pups_of_one_name_are_told_apart(place: Place) -> None:
    nest = make_nest(place, days_old=60, pups=2)
    for band in ("moss", "rust"):
        pup = nest.client.get(f"pups/{nest.pups[band]}").json()
        assert (
            nest.client.patch(f"pups/{nest.pups[band]}", {"name": "Bracken"}, pup["version"]).status_code
            == 200
        )
    ration = nest.get(f"litters/{nest.litter}/ration")
    assert [pup["name"] for pup in ration["pups"]] == ["Bracken", "Bracken (2)"]
    assert [pup["pup"] for pup in ration["pups"]] == list(nest.pups.values())


def test_the_plan_that_was_in_force_counts_for_a_day_that_has_passed(place: Place) -> None:
    nest = make_nest(place, days_old=60, pups=1, method="growth_klein")
    plan = nest.client.get(f"feeding-plans/{nest.plan}").json()
    today = local_day(timezone.now(), place.here.zone).isoformat()
    assert (
        nest.client.patch(f"feeding-plans/{nest.plan}", {"ended_on": today}, plan["version"]).status_code
        == 200
    )
    assert nest.get(f"litters/{nest.litter}/ration")["reason"] == "This litter has no feeding plan."
    with door.read(place.here, place.actor, timezone.now()) as opened:
        yesterday = opened.at - timedelta(days=1)
        facts = litter_facts(
            [Ask(UUID(nest.litter), yesterday, local_day(yesterday, place.here.zone))], opened
        )[0]
    assert facts is not None
    assert facts.plan is not None
    assert facts.plan["method"] == "growth_klein"


def test_the_next_meal_lies_within_the_stage_of_its_own_day(place: Place) -> None:
    nest = make_nest(place, days_old=27, pups=1)
    zone = place.here.zone
    with door.read(place.here, place.actor, timezone.now()) as opened:
        facts = litter_facts([Ask(UUID(nest.litter), opened.at, local_day(opened.at, zone))], opened)[0]
    assert facts is not None
    meal_at = next_meal_at(facts, timezone.now(), zone)
    assert meal_at is not None
    assert (local_day(meal_at, zone) - local_day(nest.whelped_at, zone)).days == 28


def _feeding_of(scene: Feeding, day: str) -> dict[str, Any]:
    rows = scene.rows(f"SELECT extra FROM rollup_litterday WHERE kennel_id = %(k)s AND day = '{day}'")
    import json

    extra = rows[0]["extra"]
    found: dict[str, Any] = (json.loads(extra) if isinstance(extra, str) else extra)["feeding"]
    return found


def test_a_days_feeding_adds_up_as_recomputed_by_hand() -> None:
    scene = Feeding(pups=2)
    evening = utc("2026-02-04 17:20")
    scene.meal(utc("2026-02-04 08:05"), dry_g=60, water_ml=240, left_wet_g=100)
    scene.meal(utc("2026-02-04 08:25"), dry_g=60, water_ml=240)  # the same bowl, told twice
    scene.meal(evening, dry_g=50, water_ml=200, left_wet_g=0)
    scene.create(
        "bottle-feed",
        {"pup": str(scene.pups[0]), "taken_ml": 12.5, "occurred_at": "2026-02-04T12:00:00Z"},
        utc("2026-02-04 18:00"),
    )
    computing.mark_finished_days(utc("2026-02-05 06:00"))
    assert computing.compute_dirty(utc("2026-02-05 06:00")) > 0
    day = _feeding_of(scene, "2026-02-04")
    # 60 g of a 300 g mix of which 100 g came back: 40 g eaten; then 50 g, all eaten.
    assert (day["meals"], day["offered_dry_g"], day["eaten_dry_g"]) == (2, 110, 90)
    assert (day["left_wet_g"], day["not_weighed_back"]) == (100, 0)
    # 3800 kcal/kg: the energy offered is that of the dry food alone.
    assert day["offered_kcal"] == pytest.approx(110 * 3.8, rel=0.01)
    assert (day["meals_due"], day["meals_done"], day["meals_late"], day["meals_missed"]) == (2, 2, 1, 0)
    assert (day["bottles"], day["bottle_ml"]) == (1, 12.5)


def test_a_meal_recorded_late_marks_its_day(place: Place) -> None:
    nest: Nest = make_nest(place, days_old=60, pups=1)
    nest.meal(minutes_ago=60 * 24 * 2, dry_g=70)
    with door.read(place.here, place.actor, datetime.now(UTC)), connection.cursor() as cursor:
        cursor.execute("SELECT day FROM rollup_dirtyday WHERE kennel_id = %s ORDER BY day", [place.here.id])
        days = {row[0] for row in cursor.fetchall()}
    assert local_day(timezone.now() - timedelta(days=2), place.here.zone) in days
