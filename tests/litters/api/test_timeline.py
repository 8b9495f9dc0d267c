"""The timeline: all kinds of facts in one order, page by page, with corrections and warnings said."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def ago(hours: float) -> str:
    return (timezone.now() - timedelta(hours=hours)).isoformat()


def full_nest(place: Place) -> Nest:
    nest = make_nest(place, days_old=3)
    moss, rust = nest.pups["moss"], nest.pups["rust"]
    make_record(place, "whelping-entry", litter=nest.litter, kind="straining_began", occurred_at=ago(73))
    weigh(place, moss, 400, hours_ago=60)
    make_record(place, "temperature", pup=rust, temp_c=35.5, occurred_at=ago(50))
    make_record(place, "temperature", dog=nest.dam, temp_c=38.6, occurred_at=ago(49))
    make_record(place, "box-climate", litter=nest.litter, surface_c=31, occurred_at=ago(40))
    make_record(place, "milestone", pup=moss, kind="crawls", occurred_at=ago(30))
    make_record(place, "departure", pup=rust, kind="lent", occurred_at=ago(20))
    make_record(place, "return", pup=rust, occurred_at=ago(10))
    return nest


def types(lines: list[dict[str, Any]]) -> list[str]:
    return [line["type"] for line in lines]


EXPECTED = ["return", "departure", "milestone", "box-climate", "temperature", "temperature", "weighing"]


def test_everything_stands_in_the_order_it_happened_newest_first(place: Place) -> None:
    nest = full_nest(place)
    lines = DeviceClient(place).get(f"litters/{nest.litter}/timeline").json()["results"]
    assert types(lines) == [*EXPECTED, "birth", "birth", "birth", "whelping-entry"]
    dam_line = next(line for line in lines if line["said"].get("temp_c") == 38.6)
    assert dam_line["pup"] is None
    assert lines[0]["recorded_by"] == place.keeper.name


def test_pages_follow_each_other_without_gap_or_double(place: Place) -> None:
    nest = full_nest(place)
    client = DeviceClient(place)
    whole = client.get(f"litters/{nest.litter}/timeline").json()["results"]
    found, path = [], f"litters/{nest.litter}/timeline?limit=4"
    for _ in range(4):
        page = client.get(path).json()
        found += page["results"]
        if page["next"] is None:
            break
        path = f"litters/{nest.litter}/timeline?limit=4&cursor={page['next']}"
    assert found == whole
    assert client.get(f"litters/{nest.litter}/timeline?cursor=forged").status_code == 400


def test_an_interval_shows_only_what_lies_in_it(place: Place) -> None:
    nest = full_nest(place)
    window = f"from={ago(45)}&to={ago(15)}".replace("+", "%2B")
    lines = DeviceClient(place).get(f"litters/{nest.litter}/timeline?{window}").json()["results"]
    assert types(lines) == ["departure", "milestone", "box-climate"]


def test_a_correction_and_a_warning_are_said_and_a_removed_fact_is_gone(place: Place) -> None:
    nest = full_nest(place)
    client = DeviceClient(place)
    late = make_record(place, "weighing", pup=nest.pups["rust"], weight_g=500, occurred_at=ago(15))
    client.patch(f"weighings/{late}", {"weight_g": 510, "reason": "misread"}, version=1)
    lines = client.get(f"litters/{nest.litter}/timeline").json()["results"]
    line = next(one for one in lines if one["uid"] == late)
    assert (line["is_corrected"], line["said"]["weight_g"]) == (True, 510)
    assert [warning["code"] for warning in line["warnings"]] == ["pup_left"]
    client.delete(f"weighings/{late}", version=2)
    lines = client.get(f"litters/{nest.litter}/timeline").json()["results"]
    assert late not in {one["uid"] for one in lines}
