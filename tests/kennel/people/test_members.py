"""Members: roles, leaving, the last keeper, and what a membership's end means from the next request on."""

from typing import Any

import pytest

from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Invitation, Membership, TabletTurn
from tests.api import DeviceClient
from tests.factories.people import AT, Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient, codes, slug

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> CarerClient:
    return CarerClient(place, place.keeper)


def membership(place: Place, carer: Carer) -> Membership:
    return Membership.objects.get(kennel_id=place.here.id, carer=carer, ended_at=None)


def journal(keeper: CarerClient) -> Any:
    return keeper.get("journal").json()["results"]


def test_the_list_names_members_and_tells_addresses_to_keepers_only(
    place: Place, keeper: CarerClient
) -> None:
    carer = add_member(place, Role.CARER)
    shown = keeper.get("members").json()["results"]
    assert [(m["name"], m["role"]) for m in shown] == [(place.keeper.name, "keeper"), (carer.name, "carer")]
    assert {m["email"] for m in shown} == {place.keeper.email, carer.email}
    as_carer = CarerClient(place, carer).get("members").json()["results"]
    assert [m["name"] for m in as_carer] == [m["name"] for m in shown]
    assert all("email" not in m for m in as_carer)


def test_the_list_pages_by_signed_cursor(place: Place, keeper: CarerClient) -> None:
    names = [place.keeper.name] + [add_member(place, Role.READER).name for _ in range(4)]
    first = keeper.get("members?limit=2").json()
    second = keeper.get(f"members?limit=2&cursor={first['next']}").json()
    third = keeper.get(f"members?limit=2&cursor={second['next']}").json()
    assert [m["name"] for page in (first, second, third) for m in page["results"]] == names
    assert third["next"] is None
    assert slug(keeper.get(f"members?cursor={first['next'][:-2]}")) == "malformed"
    elsewhere = make_kennel("Elsewhere")
    assert (
        slug(CarerClient(elsewhere, elsewhere.keeper).get(f"members?cursor={first['next']}")) == "malformed"
    )


def test_a_role_changes_with_the_version_and_stands_in_the_journal(place: Place, keeper: CarerClient) -> None:
    member = membership(place, add_member(place, Role.READER))
    path = f"members/{member.uid}"
    assert slug(keeper.send("PATCH", path, {"role": "carer"})) == "precondition-required"
    stale = keeper.send("PATCH", path, {"role": "carer"}, version=7)
    assert (slug(stale), stale.json()["current"]["role"]) == ("version-mismatch", "reader")
    assert codes(keeper.send("PATCH", path, {"role": "owner"}, version=1)) == ["enum"]
    assert codes(keeper.send("PATCH", path, {"role": "carer", "name": "x"}, version=1)) == ["extra_forbidden"]
    done = keeper.send("PATCH", path, {"role": "carer"}, version=1)
    assert (done.status_code, done["ETag"], done.json()["role"]) == (200, '"v2"', "carer")
    again = keeper.send("PATCH", path, {"role": "carer"}, version=1)
    assert (again.status_code, again["ETag"]) == (200, '"v2"')
    entry = journal(keeper)[0]
    assert (entry["type"], entry["op"], entry["by"]) == ("membership", "update", place.keeper.name)
    assert (entry["old"], entry["new"]) == ({"role": "reader"}, {"role": "carer"})


def test_an_empty_change_of_a_member_or_the_kennel_changes_nothing(place: Place, keeper: CarerClient) -> None:
    """RFC 7396: an empty merge patch leaves the target as it is."""
    item = f"members/{membership(place, add_member(place, Role.READER)).uid}"
    same = keeper.send("PATCH", item, {}, version=1)
    assert (same.status_code, same.json()["role"], same.json()["version"]) == (200, "reader", 1)
    assert keeper.send("PATCH", item, {"role": None}, version=1).status_code == 422
    assert keeper.send("PATCH", item, {}).status_code == 428
    kennel = f"/api/v1/kennels/{place.here.uid}"
    version = keeper.get(kennel).json()["version"]
    assert keeper.send("PATCH", kennel, {}, version=version).json()["version"] == version


def test_the_last_keeper_can_neither_leave_nor_step_down(place: Place, keeper: CarerClient) -> None:
    own, other = membership(place, place.keeper), membership(place, add_member(place, Role.CARER))
    path = f"members/{own.uid}"
    assert codes(keeper.send("DELETE", path, version=1)) == ["last_keeper"]
    assert codes(keeper.send("PATCH", path, {"role": "carer"}, version=1)) == ["last_keeper"]
    own.refresh_from_db()
    assert (own.role, own.ended_at) == ("keeper", None)
    assert keeper.send("PATCH", f"members/{other.uid}", {"role": "keeper"}, version=1).status_code == 200
    assert keeper.send("DELETE", path, version=1).status_code == 204
    assert keeper.get("members").status_code == 404


def test_everybody_may_leave_but_only_a_keeper_ends_anothers_membership(place: Place) -> None:
    reader, carer = add_member(place, Role.READER), add_member(place, Role.CARER)
    as_reader = CarerClient(place, reader)
    others, own = membership(place, carer), membership(place, reader)
    assert slug(as_reader.send("DELETE", f"members/{others.uid}", version=1)) == "forbidden"
    assert as_reader.send("DELETE", f"members/{own.uid}", version=1).status_code == 204
    assert membership(place, carer).ended_at is None


def test_an_ended_membership_is_dead_at_once_for_sessions_devices_and_open_turns(
    place: Place, keeper: CarerClient
) -> None:
    carer = add_member(place, Role.CARER)
    as_carer, phone = CarerClient(place, carer), DeviceClient(place, carer=carer)
    tablet, _ = make_device(place)
    member = membership(place, carer)
    TabletTurn.objects.create(device=tablet, membership=member, token_hash="0", began_at=AT, expires_at=AT)
    assert (as_carer.get("members").status_code, phone.get("members").status_code) == (200, 200)
    assert keeper.send("DELETE", f"members/{member.uid}", version=1).status_code == 204
    assert (as_carer.get("members").status_code, phone.get("members").status_code) == (404, 401)
    assert TabletTurn.objects.count() == 0
    assert keeper.send("DELETE", f"members/{member.uid}", version=1).status_code == 204
    shown = keeper.get(f"members/{member.uid}").json()
    assert (shown["deleted"], shown["ended_at"] is not None) == (True, True)


def test_who_comes_back_finds_old_devices_revoked(place: Place, keeper: CarerClient) -> None:
    carer = add_member(place, Role.CARER)
    phone = DeviceClient(place, carer=carer)
    assert phone.get("members").status_code == 200
    keeper.send("DELETE", f"members/{membership(place, carer).uid}", version=1)
    Membership.objects.create(kennel_id=place.here.id, carer=carer, role=Role.CARER, recorded_at=AT)
    assert CarerClient(place, carer).get("members").status_code == 200
    assert phone.get("members").status_code == 401
    assert Device.objects.get(carer=carer).revoked_at is not None


@pytest.mark.parametrize("how", ["ended", "stepped down"])
def test_what_a_keeper_left_open_is_closed_with_the_keeper(
    place: Place, keeper: CarerClient, how: str
) -> None:
    second = add_member(place, Role.KEEPER)
    as_second = CarerClient(place, second)
    theirs = as_second.post("invitations", {"role": "keeper"}).json()
    mine = keeper.post("invitations", {"role": "carer"}).json()
    device = as_second.post("devices", {"name": "Scale", "kind": "scale"}).json()
    path = f"members/{membership(place, second).uid}"
    if how == "ended":
        assert keeper.send("DELETE", path, version=1).status_code == 204
    else:
        assert keeper.send("PATCH", path, {"role": "reader"}, version=1).status_code == 200
    stranger = CarerClient(place, make_kennel("Elsewhere").keeper)
    accept = "/api/v1/invitations/accept"
    assert slug(stranger.post(accept, {"code": theirs["code"]})) == "not-found"
    assert slug(stranger.post("/api/v1/devices/pair", {"code": device["pairing"]["code"]})) == "not-found"
    assert Invitation.objects.get(uid=theirs["uid"]).withdrawn_at is not None
    assert stranger.post(accept, {"code": mine["code"]}).status_code == 200


def test_another_kennels_members_are_absent(place: Place) -> None:
    other = make_kennel("Elsewhere")
    theirs = membership(other, other.keeper)
    keeper = CarerClient(place, place.keeper)
    foreign, absent = keeper.get(f"members/{theirs.uid}"), keeper.get(f"members/{place.here.uid}")
    assert (foreign.status_code, absent.status_code) == (404, 404)
    assert {**foreign.json(), "instance": ""} == {**absent.json(), "instance": ""}
    assert keeper.send("PATCH", f"members/{theirs.uid}", {"role": "reader"}, version=1).status_code == 404
    assert keeper.send("DELETE", f"members/{theirs.uid}", version=1).status_code == 404
    assert membership(other, other.keeper).role == "keeper"
