"""The whelping box in a day: extremes, minutes outside the range, and minutes nobody knows about."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from litters.rollup.services import computing
from tests.api import DeviceClient
from tests.factories.people import make_kennel

pytestmark = pytest.mark.usefixtures("db")
LONDON = ZoneInfo("Europe/London")
BORN = datetime(2026, 3, 25, 2, tzinfo=UTC)
EVENING = datetime(2026, 3, 28, 23, 30, tzinfo=UTC)  # the clocks go forward on the 29th at 01:00 UTC


@pytest.fixture
def client() -> DeviceClient:
    return DeviceClient(make_kennel())


@pytest.fixture
def litter(client: DeviceClient) -> str:
    dam = client.post("dogs", {"name": "Bramble", "sex": "female"}).json()["uid"]
    made = client.post("litters", {"name": "Bramble's", "dam": dam, "whelped_at": BORN.isoformat()})
    return made.json()["uid"]


def read(client: DeviceClient, litter: str, at: datetime, **readings: float) -> dict[str, Any]:
    answer = client.post("box-climate", {"litter": litter, "occurred_at": at.isoformat(), **readings})
    assert answer.status_code == 201, answer.content
    return answer.json()


def night(client: DeviceClient, litter: str) -> dict[date, dict[str, Any]]:
    """Box climate of each day after the night of the 29th."""
    at = datetime(2026, 3, 30, 6, tzinfo=UTC)
    computing.mark_finished_days(at)
    computing.compute_dirty(at)
    rows = client.get(f"litters/{litter}/days?limit=20").json()["results"]
    return {date.fromisoformat(row["day"]): row["extra"]["climate"] for row in rows}


def test_a_reading_speaks_until_the_next_one_and_at_most_for_an_hour(
    client: DeviceClient, litter: str
) -> None:
    # Days 3 and 4: 29.5 to 32 where the pups lie (handbook, as in litters/domain/neonate.py).
    read(client, litter, EVENING, surface_c=30.0)  # 30 min before midnight, speaks 30 min into the 29th
    read(client, litter, EVENING + timedelta(hours=2), surface_c=27.0)  # cold, for 20 min, until the next
    read(
        client, litter, EVENING + timedelta(minutes=130), area_c=24.5, humidity_pct=60
    )  # says nothing of the surface
    read(
        client, litter, EVENING + timedelta(minutes=140), surface_c=31.5
    )  # speaks for an hour, then nobody knows
    days = night(client, litter)
    assert days[date(2026, 3, 28)] == {
        "readings": 1,
        "surface_min_c": 30.0,
        "surface_max_c": 30.0,
        "area_min_c": None,
        "area_max_c": None,
        "humidity_min_pct": None,
        "humidity_max_pct": None,
        "minutes_outside": 0,
        "minutes_unknown": 24 * 60 - 30,
    }
    assert days[date(2026, 3, 29)] == {
        "readings": 3,
        "surface_min_c": 27.0,
        "surface_max_c": 31.5,
        "area_min_c": 24.5,
        "area_max_c": 24.5,
        "humidity_min_pct": 60.0,
        "humidity_max_pct": 60.0,
        "minutes_outside": 20,
        "minutes_unknown": 23 * 60 - 30 - 20 - 60,
    }


def test_a_day_without_readings_is_unknown_not_well(client: DeviceClient, litter: str) -> None:
    days = night(client, litter)
    assert (days[date(2026, 3, 29)]["minutes_outside"], days[date(2026, 3, 29)]["minutes_unknown"]) == (
        0,
        23 * 60,
    )


def test_a_late_reading_and_its_removal_change_the_day_and_the_day_it_speaks_into(
    client: DeviceClient, litter: str
) -> None:
    assert night(client, litter)[date(2026, 3, 29)]["readings"] == 0
    made = read(client, litter, EVENING, surface_c=34.0)
    days = night(client, litter)
    assert [days[date(2026, 3, day)]["minutes_outside"] for day in (28, 29)] == [30, 30]
    assert client.delete(f"box-climate/{made['uid']}", 1).status_code == 204
    days = night(client, litter)
    assert [days[date(2026, 3, day)]["minutes_outside"] for day in (28, 29)] == [0, 0]


def test_the_summary_of_an_interval_says_the_same(client: DeviceClient, litter: str) -> None:
    read(client, litter, EVENING, surface_c=34.0)
    from_at, to_at = EVENING + timedelta(minutes=15), EVENING + timedelta(minutes=45)
    said = client.get(
        f"litters/{litter}/summary?from={from_at:%Y-%m-%dT%H:%M:%SZ}&to={to_at:%Y-%m-%dT%H:%M:%SZ}"
    ).json()
    climate = said["climate"]
    assert (climate["readings"], climate["minutes_outside"], climate["minutes_unknown"]) == (0, 30, 0)
