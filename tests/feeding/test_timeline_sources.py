"""Meals and bottles stand in the litter's timeline, and nobody else's do."""

import pytest
from django.utils import timezone

from tests.api import DeviceClient
from tests.factories.people import make_kennel
from tests.factories.records import make_nest, make_record

pytestmark = pytest.mark.usefixtures("db")


def test_a_meal_and_a_bottle_stand_there_with_their_amounts_in_their_own_litter_only() -> None:
    place, other = make_kennel(), make_kennel()
    nest, beside = make_nest(place, days_old=24), make_nest(place, days_old=24, name="Bramble's")
    elsewhere = make_nest(other, days_old=24)
    food = make_record(place, "food", name="Puppy dry", kind="dry", printed_kcal_per_kg=3800)
    now = timezone.now()
    make_record(place, "bottle-feed", pup=nest.pups["moss"], taken_ml=12.5, offered_ml=15, occurred_at=now)
    make_record(
        place,
        "meal",
        litter=nest.litter,
        food=food,
        dry_g=120,
        water_ml=240,
        left_wet_g=30,
        occurred_at=now,
    )
    client = DeviceClient(place)
    lines = client.get(f"litters/{nest.litter}/timeline").json()["results"]
    found = {line["type"]: line for line in lines if line["type"] != "birth"}
    assert set(found) == {"meal", "bottle-feed"}
    assert found["meal"]["said"]["food"] == "Puppy dry"
    assert (found["meal"]["said"]["dry_g"], found["meal"]["said"]["left_wet_g"]) == (120, 30)
    assert found["meal"]["pup"] is None
    assert (found["bottle-feed"]["said"]["taken_ml"], found["bottle-feed"]["pup"]) == (
        12.5,
        nest.pups["moss"],
    )
    beside_lines = client.get(f"litters/{beside.litter}/timeline").json()["results"]
    elsewhere_lines = DeviceClient(other).get(f"litters/{elsewhere.litter}/timeline").json()["results"]
    assert {line["type"] for line in [*beside_lines, *elsewhere_lines]} == {"birth"}
