"""Who is here: departures, returns, deaths; facts about absent pups are kept with a warning."""

from datetime import UTC, datetime
from uuid import UUID

import pytest

from kennel.records import door
from litters import selectors
from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel

pytestmark = pytest.mark.usefixtures("db")
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def client(place: Place) -> DeviceClient:
    return DeviceClient(place)


@pytest.fixture
def nest(client: DeviceClient) -> tuple[str, list[str]]:
    dam = client.post("dogs", {"name": "Bramble", "sex": "female"}).json()["uid"]
    litter = client.post("litters", {"name": "L", "dam": dam, "whelped_at": "2026-02-01T03:00:00Z"}).json()[
        "uid"
    ]
    made = [
        client.post(
            "pups", {"litter": litter, "band": band, "born_at": "2026-02-01T03:00:00Z"} | more
        ).json()["uid"]
        for band, more in (
            ("moss", {}),
            ("rust", {"rearing": "hand_fed"}),
            ("slate", {"fate": "stillborn"}),
            ("wheat", {"fate": "died", "died_at": "2026-02-10T03:00:00Z"}),
        )
    ]
    return litter, made


def counts(place: Place, litter: str, at: datetime) -> selectors.LitterCounts:
    with door.read(place.here, place.actor, at):
        return selectors.litter_counts([UUID(litter)], place.here.id, at)[UUID(litter)]


def test_born_living_stillborn_died_left_and_resident_are_different_counts(
    place: Place, client: DeviceClient, nest: tuple[str, list[str]]
) -> None:
    litter, pups = nest
    found = counts(place, litter, NOON)
    assert (found.born, found.live_born, found.stillborn, found.died, found.left, found.resident) == (
        4,
        3,
        1,
        1,
        0,
        2,
    )
    assert (found.sucking, found.hand_fed) == (1, 1)
    before = counts(place, litter, datetime(2026, 2, 5, tzinfo=UTC))
    assert (before.died, before.resident) == (0, 3)
    left = client.post("departures", {"pup": pups[0], "kind": "sold", "occurred_at": "2026-02-28T10:00:00Z"})
    assert left.status_code == 201, left.content
    found = counts(place, litter, NOON)
    assert (found.left, found.resident, found.sucking) == (1, 1, 0)
    client.post("returns", {"pup": pups[0], "occurred_at": "2026-03-01T10:00:00Z"})
    assert counts(place, litter, NOON).resident == 2
    with door.read(place.here, place.actor, NOON):
        assert [p.called for p in selectors.resident_pups([UUID(litter)], place.here.id, NOON)] == [
            "moss",
            "rust",
        ]


def test_a_weighing_of_a_pup_that_left_is_kept_with_a_warning(
    client: DeviceClient, nest: tuple[str, list[str]]
) -> None:
    _, pups = nest
    client.post("departures", {"pup": pups[0], "kind": "sold", "occurred_at": "2026-02-20T10:00:00Z"})
    kept = client.post("weighings", {"pup": pups[0], "occurred_at": "2026-02-21T10:00:00Z", "weight_g": 900})
    assert kept.status_code == 201
    assert [w["code"] for w in kept.json()["warnings"]] == ["pup_left"]
    earlier = client.post(
        "weighings", {"pup": pups[0], "occurred_at": "2026-02-19T10:00:00Z", "weight_g": 880}
    )
    assert earlier.json()["warnings"] == []
    dead = client.post("weighings", {"pup": pups[3], "occurred_at": "2026-02-21T10:00:00Z", "weight_g": 500})
    assert [w["code"] for w in dead.json()["warnings"]] == ["pup_not_living"]


def test_a_fahrenheit_reading_is_stored_in_celsius_as_typed_beside_it(
    client: DeviceClient, nest: tuple[str, list[str]]
) -> None:
    # 98.6 degrees Fahrenheit are 37 degrees Celsius (NIST SP 811, appendix B.8).
    made = client.post(
        "temperatures",
        {
            "pup": nest[1][0],
            "occurred_at": "2026-02-03T10:00:00Z",
            "entered_value": 98.6,
            "entered_unit": "F",
        },
    ).json()
    assert (made["temp_c"], made["entered_value"], made["entered_unit"]) == (37, 98.6, "F")
    bad = client.post(
        "temperatures", {"pup": nest[1][0], "occurred_at": "2026-02-03T10:00:00Z", "entered_value": 98.6}
    )
    assert bad.status_code == 422
    assert bad.json()["errors"][0]["pointer"] == "#/temp_c"


def test_a_pup_is_booked_once_and_a_climate_needs_a_reading(
    client: DeviceClient, nest: tuple[str, list[str]]
) -> None:
    litter, pups = nest
    assert client.post("bookings", {"litter": litter, "pup": pups[0]}).status_code == 201
    again = client.post("bookings", {"litter": litter, "pup": pups[0]})
    assert (again.status_code, again.json()["errors"][0]["detail"]) == (422, "This pup is booked already.")
    empty = client.post("box-climate", {"litter": litter, "occurred_at": "2026-02-03T10:00:00Z"})
    assert empty.status_code == 422
    read = {"litter": litter, "occurred_at": "2026-02-03T10:00:00Z", "surface_c": 30.5, "humidity_pct": 58}
    assert client.post("box-climate", read).json()["surface_c"] == 30.5
