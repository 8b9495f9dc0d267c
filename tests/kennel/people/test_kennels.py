"""Making a kennel twice, and changing what is agreed in it."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connections

from kennel.people.choices import Role
from kennel.people.models import Carer, Kennel, Membership
from kennel.people.services import kennels
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import CarerClient, codes, make_carer, slug

pytestmark = pytest.mark.usefixtures("db")
HOLLIN = {"name": "Hollin Bank", "zone": "Europe/London", "place": "GB-ENG"}
KENNELS = "/api/v1/kennels"


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> CarerClient:
    return CarerClient(place, place.keeper)


@pytest.fixture
def maud(place: Place) -> CarerClient:
    return CarerClient(place, make_carer(name="Maud Ferrier"))


def test_making_the_same_kennel_twice_makes_one(maud: CarerClient) -> None:
    uid = str(new_uid())
    first = maud.post(KENNELS, {"uid": uid, **HOLLIN})
    again = maud.post(KENNELS, {"uid": uid, **HOLLIN})
    assert (first.status_code, again.status_code, again["Replayed"]) == (201, 200, "true")
    assert first.json() == again.json()
    assert Kennel.objects.filter(uid=uid).count() == 1
    assert Membership.objects.filter(kennel__uid=uid).count() == 1


def test_a_replay_after_a_change_answers_with_the_kennel_as_it_is_now(maud: CarerClient) -> None:
    uid = str(new_uid())
    maud.post(KENNELS, {"uid": uid, **HOLLIN})
    changed = maud.send("PATCH", f"{KENNELS}/{uid}", {"name": "Hollin Bank House"}, version=1)
    assert changed.status_code == 200, changed.content
    again = maud.post(KENNELS, {"uid": uid, **HOLLIN})
    assert (again.status_code, again.json()["name"], again["ETag"]) == (200, "Hollin Bank House", '"v2"')


def test_a_known_uid_with_other_content_or_of_somebody_else_is_a_conflict(
    place: Place, maud: CarerClient
) -> None:
    uid = str(new_uid())
    assert maud.post(KENNELS, {"uid": uid, **HOLLIN}).status_code == 201
    assert slug(maud.post(KENNELS, {"uid": uid, **HOLLIN, "name": "Elsewhere"})) == "uid-conflict"
    stranger = CarerClient(place, make_carer())
    assert slug(stranger.post(KENNELS, {"uid": uid, **HOLLIN})) == "uid-conflict"
    assert stranger.get(KENNELS).json()["results"] == []


def test_six_at_once_make_one_kennel(maud: CarerClient, place: Place) -> None:
    uid, carer = str(new_uid()), make_carer()

    def make(_: int) -> int:
        try:
            return int(CarerClient(place, carer).post(KENNELS, {"uid": uid, **HOLLIN}).status_code)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(6) as pool:
        statuses = sorted(pool.map(make, range(6)))
    assert statuses == [200, 200, 200, 200, 200, 201]
    assert Membership.objects.filter(kennel__uid=uid).count() == 1


def test_a_device_makes_no_kennel(place: Place) -> None:
    phone = DeviceClient(place, carer=place.keeper, scopes=("read", "write", "manage"))
    assert slug(phone.post(KENNELS, HOLLIN)) == "forbidden"


def test_settings_change_with_the_version_and_stand_in_the_journal(place: Place, keeper: CarerClient) -> None:
    path = f"{KENNELS}/{place.here.uid}"
    patch = {"vet_name": "Brook Lane", "vet_phone": "01632 960 001", "zone": "Europe/Paris"}
    assert slug(keeper.send("PATCH", path, patch)) == "precondition-required"
    stale = keeper.send("PATCH", path, patch, version=3)
    assert (slug(stale), stale.json()["current"]["zone"]) == ("version-mismatch", "Europe/London")
    done = keeper.send("PATCH", path, patch, version=1)
    assert (done.status_code, done["ETag"]) == (200, '"v2"')
    assert {name: done.json()[name] for name in patch} == patch
    assert keeper.send("PATCH", path, patch, version=1)["ETag"] == '"v2"'
    entry = keeper.get("journal").json()["results"][0]
    assert (entry["type"], entry["new"], entry["old"]["zone"]) == ("kennel", patch, "Europe/London")
    assert keeper.send("PATCH", path, {"vet_phone": None}, version=2).json()["vet_phone"] == ""


@pytest.mark.parametrize(
    ("patch", "code"),
    [
        ({"name": None}, "string_type"),
        ({"name": ""}, "string_too_short"),
        ({"zone": "Mars/Base"}, "zone"),
        ({"mass_unit": "stone"}, "enum"),
        ({"place": "Scotland"}, "string_pattern_mismatch"),
        ({"vet_phone": "1" * 41}, "too_long"),
        ({"settings": {}}, "extra_forbidden"),
        ({"name": "a\u202eb"}, "character"),
    ],
)
def test_settings_are_checked(place: Place, keeper: CarerClient, patch: dict[str, Any], code: str) -> None:
    assert codes(keeper.send("PATCH", f"{KENNELS}/{place.here.uid}", patch, version=1)) == [code]
    assert Kennel.objects.get(pk=place.here.id).version == 1


def test_a_change_of_settings_tells_those_who_asked_in_the_same_transaction(
    place: Place, keeper: CarerClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[Any, ...]] = []
    monkeypatch.setattr(kennels, "_settings_hooks", [])
    kennels.when_settings_change(lambda before, after, door: told.append((before, after, door.kennel.id)))
    keeper.send(
        "PATCH", f"{KENNELS}/{place.here.uid}", {"zone": "Asia/Kathmandu", "name": "Hollin Bank"}, version=1
    )
    keeper.send("PATCH", f"{KENNELS}/{place.here.uid}", {"zone": "Asia/Kathmandu"}, version=1)
    assert told == [({"zone": "Europe/London"}, {"zone": "Asia/Kathmandu"}, place.here.id)]


def test_only_a_keeper_changes_settings(place: Place) -> None:
    path = f"{KENNELS}/{place.here.uid}"
    patch = {"name": "Mine"}
    for role in (Role.CARER, Role.READER):
        member = CarerClient(place, add_member(place, role))
        assert (member.get(path).status_code, slug(member.send("PATCH", path, patch, version=1))) == (
            200,
            "forbidden",
        )
    second = CarerClient(place, add_member(place, Role.KEEPER))
    assert second.send("PATCH", path, patch, version=1).status_code == 200


def test_a_carer_of_no_kennel_has_none(place: Place) -> None:
    nobody: Carer = make_carer()
    assert CarerClient(place, nobody).get(KENNELS).json() == {"results": [], "next": None}
    assert CarerClient(place, nobody).get(f"{KENNELS}/{place.here.uid}").status_code == 404
