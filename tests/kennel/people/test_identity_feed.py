"""Members, devices and invitations in feed and snapshot: real rows, for those who may see them."""

from typing import Any

import pytest

from kennel.people.choices import Role
from kennel.people.models import Membership
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import CarerClient

pytestmark = pytest.mark.usefixtures("db")
DOG = {"name": "Bramble", "sex": "female"}


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> CarerClient:
    return CarerClient(place, place.keeper)


def feed(client: Any) -> list[dict[str, Any]]:
    """The whole feed, three entries at a time."""
    found, cursor = [], ""
    while True:
        page = client.get(f"changes?limit=3{cursor}").json()
        found += page["changes"]
        cursor = f"&cursor={page['cursor']}"
        if not page["has_more"]:
            return found


def snapshot(client: Any, limit: int) -> list[dict[str, Any]]:
    """The whole snapshot."""
    found, following = [], ""
    while True:
        page = client.get(f"snapshot?limit={limit}{following}").json()
        found += page["records"]
        following = f"&page={page['next']}"
        if not page["next"]:
            return found


def replica(entries: list[dict[str, Any]]) -> dict[tuple[str, str], Any]:
    """What a device holds after applying entries in order."""
    return {(e["type"], e["data"]["uid"]): e["data"] for e in entries}


def busy(place: Place, keeper: CarerClient) -> None:
    """Something of everything, with changes and ends."""
    idris, oona = add_member(place, Role.CARER), add_member(place, Role.CARER)
    for carer, method in ((idris, "PATCH"), (oona, "DELETE")):
        uid = Membership.objects.get(carer=carer).uid
        keeper.send(method, f"members/{uid}", {"role": "reader"} if method == "PATCH" else None, version=1)
    keeper.post("invitations", {"role": "carer"})
    withdrawn = keeper.post("invitations", {"role": "reader"}).json()
    keeper.send("DELETE", f"invitations/{withdrawn['uid']}", version=1)
    revoked = keeper.post("devices", {"name": "Scale", "kind": "scale"}).json()
    keeper.post("devices", {"name": "Phone", "kind": "phone"})
    keeper.send("DELETE", f"devices/{revoked['uid']}", version=1)
    keeper.send("PATCH", f"/api/v1/kennels/{place.here.uid}", {"vet_phone": "01632 960 001"}, version=1)
    keeper.post("dogs", DOG)


def test_the_feed_carries_people_and_devices_as_they_are_now(place: Place, keeper: CarerClient) -> None:
    busy(place, keeper)
    entries = {(e["type"], e["uid"]): e for e in feed(keeper)}
    shown = [(e["type"], e["op"], e["version"]) for e in sorted(entries.values(), key=lambda e: e["seq"])]
    assert shown == [
        ("membership", "upsert", 1),
        ("membership", "upsert", 2),
        ("membership", "delete", 2),
        ("invitation", "upsert", 1),
        ("invitation", "delete", 2),
        ("device", "upsert", 1),
        ("device", "delete", 2),
        ("kennel", "upsert", 2),
        ("dog", "upsert", 1),
    ]
    by_type = {e["type"]: e["data"] for e in entries.values()}
    assert by_type["kennel"]["vet_phone"] == "01632 960 001"
    assert {e["data"]["version"] for e in entries.values()} == {1, 2}


@pytest.mark.parametrize("limit", [1, 2, 5, 500])
def test_snapshot_and_feed_make_the_same_copy(place: Place, keeper: CarerClient, limit: int) -> None:
    busy(place, keeper)
    assert replica(snapshot(keeper, limit)) == replica(feed(keeper))
    assert snapshot(keeper, limit)[0]["type"] == "kennel"


def test_a_role_finds_only_what_it_may_see(place: Place, keeper: CarerClient) -> None:
    busy(place, keeper)
    idris = CarerClient(place, Membership.objects.get(role="reader").carer)
    carer = CarerClient(place, add_member(place, Role.CARER))
    for client, kinds in (
        (idris, {"kennel", "membership", "dog"}),
        (carer, {"kennel", "membership", "device", "dog"}),
        (keeper, {"kennel", "membership", "device", "invitation", "dog"}),
    ):
        assert {e["type"] for e in feed(client)} == kinds
        assert {e["type"] for e in snapshot(client, 4)} == kinds


def test_copies_hold_no_addresses_and_no_secrets(place: Place, keeper: CarerClient, settings: Any) -> None:
    settings.MAIL_CONFIGURED = True
    busy(place, keeper)
    keeper.post("invitations", {"role": "carer", "email": "oona@hollin.example"})
    CarerClient(place, place.keeper).post("tablet/pin", {"pin": "40718"})
    text = repr(feed(keeper)) + repr(snapshot(keeper, 500))
    assert place.keeper.name in text
    assert place.keeper.email not in text
    assert "oona@hollin.example" not in text
    assert not [word for word in ("argon2", "token_hash", "token_key", "pin_hash") if word in text]


def test_the_ending_of_a_membership_is_the_last_a_members_feed_says_nothing_of(
    place: Place, keeper: CarerClient
) -> None:
    carer = add_member(place, Role.CARER)
    member, phone = CarerClient(place, carer), DeviceClient(place, carer=carer)
    cursor = member.get("changes").json()["cursor"]
    uid = Membership.objects.get(carer=carer).uid
    keeper.send("DELETE", f"members/{uid}", version=1)
    assert member.get(f"changes?cursor={cursor}").status_code == 404
    assert phone.get(f"changes?cursor={cursor}").status_code == 401
    last = keeper.get(f"changes?cursor={cursor}").json()["changes"]
    ended = next(e for e in last if e["type"] == "membership")
    assert (ended["op"], ended["uid"]) == ("delete", str(uid))


def test_other_kennels_people_are_in_nobodys_copy(place: Place, keeper: CarerClient) -> None:
    other = make_kennel("Elsewhere")
    busy(other, CarerClient(other, other.keeper))
    assert {e["type"] for e in feed(keeper)} == {"kennel", "membership"}
    assert len(snapshot(keeper, 500)) == 2
