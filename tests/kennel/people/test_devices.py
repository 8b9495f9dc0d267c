"""Devices: a one-time pairing code, a token shown once, scopes, an end, revocation at the next request."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connections
from django.test import Client
from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Device, Membership, PairingCode
from kennel.people.services.devices import PAIRING
from kennel.people.tokens import parse_device_token
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient, codes, slug

pytestmark = pytest.mark.usefixtures("db")
PAIR = "/api/v1/devices/pair"
SCALE = {"name": "Scale at the box", "kind": "scale"}


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> CarerClient:
    return CarerClient(place, place.keeper)


@pytest.fixture
def nobody(place: Place) -> CarerClient:
    return CarerClient(place, None)


def paired(keeper: CarerClient, nobody: CarerClient, place: Place, **device: Any) -> DeviceClient:
    made = keeper.post("devices", {**SCALE, **device})
    assert made.status_code == 201, made.content
    answer = nobody.post(PAIR, {"code": made.json()["pairing"]["code"]})
    assert answer.status_code == 200, answer.content
    return DeviceClient(place, token=answer.json()["token"])


def test_a_device_is_paired_once_and_its_token_works(
    place: Place, keeper: CarerClient, nobody: CarerClient
) -> None:
    made = keeper.post("devices", SCALE).json()
    assert (made["is_paired"], made["scopes"], made["carer"]) == (False, ["read", "write"], None)
    assert made["pairing"]["code"] in made["pairing"]["url"]
    answer = nobody.post(PAIR, {"code": made["pairing"]["code"].lower()}).json()
    assert (answer["device"]["uid"], answer["kennel"]["name"]) == (made["uid"], "Hollin Bank")
    assert DeviceClient(place, token=answer["token"]).get("members").status_code == 200
    assert slug(nobody.post(PAIR, {"code": made["pairing"]["code"]})) == "not-found"
    assert keeper.get(f"devices/{made['uid']}").json()["is_paired"]


def test_a_pairing_code_lasts_ten_minutes(keeper: CarerClient, nobody: CarerClient) -> None:
    code = keeper.post("devices", SCALE).json()["pairing"]["code"]
    row = PairingCode.objects.get()
    assert row.expires_at - Device.objects.get().recorded_at == PAIRING == timedelta(minutes=10)
    PairingCode.objects.update(expires_at=timezone.now())
    assert slug(nobody.post(PAIR, {"code": code})) == "not-found"
    PairingCode.objects.update(expires_at=timezone.now() + timedelta(seconds=30))
    assert nobody.post(PAIR, {"code": code}).status_code == 200


def test_pairing_again_ends_the_token_before(place: Place, keeper: CarerClient, nobody: CarerClient) -> None:
    first = paired(keeper, nobody, place)
    uid = Device.objects.get().uid
    codes_told = [keeper.post(f"devices/{uid}/pairing").json()["pairing"]["code"] for _ in range(2)]
    assert codes_told[0] != codes_told[1]
    assert slug(nobody.post(PAIR, {"code": codes_told[0]})) == "not-found"
    assert first.get("members").status_code == 200
    second = DeviceClient(place, token=nobody.post(PAIR, {"code": codes_told[1]}).json()["token"])
    assert (first.get("members").status_code, second.get("members").status_code) == (401, 200)


def test_a_revoked_device_is_dead_on_the_next_request(
    place: Place, keeper: CarerClient, nobody: CarerClient
) -> None:
    kept, gone = (paired(keeper, nobody, place, name=name) for name in ("Kept", "Gone"))
    device = Device.objects.get(name="Gone")
    path = f"devices/{device.uid}"
    assert slug(keeper.send("DELETE", path)) == "precondition-required"
    stale = keeper.send("DELETE", path, version=1)
    assert (slug(stale), stale.json()["current"]["name"]) == ("version-mismatch", "Gone")
    assert (kept.get("members").status_code, gone.get("members").status_code) == (200, 200)
    assert keeper.send("DELETE", path, version=device.version).status_code == 204
    assert (kept.get("members").status_code, gone.get("members").status_code) == (200, 401)
    assert keeper.send("DELETE", path, version=1).status_code == 204
    assert slug(keeper.post(f"devices/{device.uid}/pairing")) == "not-found"
    assert [d["name"] for d in keeper.get("devices").json()["results"]] == ["Kept"]


def test_a_code_of_a_revoked_device_is_dead(keeper: CarerClient, nobody: CarerClient) -> None:
    made = keeper.post("devices", SCALE).json()
    assert keeper.send("DELETE", f"devices/{made['uid']}", version=1).status_code == 204
    assert slug(nobody.post(PAIR, {"code": made["pairing"]["code"]})) == "not-found"


def test_a_token_ends_by_itself(place: Place, keeper: CarerClient, nobody: CarerClient) -> None:
    device = paired(keeper, nobody, place, days=1)
    row = Device.objects.get()
    assert row.expires_at - row.recorded_at == timedelta(days=1)
    assert device.get("members").status_code == 200
    Device.objects.update(expires_at=timezone.now())
    assert device.get("members").status_code == 401


@pytest.mark.parametrize(("days", "status"), [(1, 201), (400, 201), (0, 422), (401, 422), ("1", 422)])
def test_a_token_lasts_1_to_400_days(keeper: CarerClient, days: object, status: int) -> None:
    assert keeper.post("devices", {**SCALE, "days": days}).status_code == status


def test_the_database_itself_holds_tokens_to_400_days_and_tablets_to_nobody(place: Place) -> None:
    device, _ = make_device(place)
    with pytest.raises(IntegrityError, match="people_device_life"):
        Device.objects.filter(pk=device.pk).update(
            expires_at=device.recorded_at + timedelta(days=400, seconds=1)
        )
    with pytest.raises(IntegrityError, match="people_device_tablet_shared"):
        Device.objects.filter(pk=device.pk).update(kind="tablet", carer=place.keeper)
    with pytest.raises(IntegrityError, match="people_device_scopes"):
        Device.objects.filter(pk=device.pk).update(scopes=["read", "everything"])


def test_scopes_hold(place: Place, keeper: CarerClient, nobody: CarerClient) -> None:
    looking = paired(keeper, nobody, place, name="A", scopes=["read"])
    writing = paired(keeper, nobody, place, name="B", scopes=["write", "read"])
    dog = {"name": "Bramble", "sex": "female"}
    assert (looking.get("dogs").status_code, slug(looking.post("dogs", dog))) == (200, "forbidden")
    assert writing.post("dogs", dog).status_code == 201
    assert codes(keeper.post("devices", {**SCALE, "scopes": []})) == ["too_short"]
    assert codes(keeper.post("devices", {**SCALE, "scopes": ["all"]})) == ["enum"]


def test_a_keepers_own_device_manages_only_with_the_scope_manage(
    place: Place, keeper: CarerClient, nobody: CarerClient
) -> None:
    own = str(Membership.objects.get(carer=place.keeper).uid)
    plain = paired(keeper, nobody, place, kind="phone", member=own)
    managing = paired(keeper, nobody, place, kind="program", member=own, scopes=["read", "write", "manage"])
    assert slug(plain.post("invitations", {"role": "carer"})) == "forbidden"
    assert managing.post("invitations", {"role": "carer"}).status_code == 201


def test_a_shared_device_never_manages_people(place: Place, keeper: CarerClient, nobody: CarerClient) -> None:
    shared = paired(keeper, nobody, place, scopes=["read", "write", "manage"])
    assert slug(shared.post("invitations", {"role": "keeper"})) == "forbidden"
    assert slug(shared.post("devices", SCALE)) == "forbidden"


def test_a_members_device_has_the_members_role(
    place: Place, keeper: CarerClient, nobody: CarerClient
) -> None:
    reader = add_member(place, Role.READER)
    member = Membership.objects.get(carer=reader)
    phone = paired(keeper, nobody, place, kind="phone", member=str(member.uid))
    dog = {"name": "Sorrel", "sex": "female"}
    assert slug(phone.post("dogs", dog)) == "forbidden"
    keeper.send("PATCH", f"members/{member.uid}", {"role": "carer"}, version=1)
    made = phone.post("dogs", dog)
    assert (made.status_code, made.json()["recorded_by"]) == (201, reader.name)


def test_a_shared_tablet_belongs_to_nobody_and_members_are_of_this_kennel(
    place: Place, keeper: CarerClient
) -> None:
    own = str(Membership.objects.get(carer=place.keeper).uid)
    foreign = str(Membership.objects.get(carer=make_kennel("Elsewhere").keeper).uid)
    tablet = {"name": "Tablet", "kind": "tablet"}
    assert codes(keeper.post("devices", {**tablet, "member": own})) == ["shared"]
    assert slug(keeper.post("devices", {**SCALE, "member": foreign})) == "parent-missing"
    assert keeper.post("devices", tablet).status_code == 201


def test_the_same_sent_twice_makes_one_device_and_tells_the_same_code(
    keeper: CarerClient, nobody: CarerClient
) -> None:
    uid = str(new_uid())
    first = keeper.post("devices", {"uid": uid, **SCALE})
    again = keeper.post("devices", {"uid": uid, **SCALE})
    assert (first.status_code, again.status_code, again["Replayed"]) == (201, 200, "true")
    assert again.json()["pairing"]["code"] == first.json()["pairing"]["code"]
    assert slug(keeper.post("devices", {"uid": uid, **SCALE, "name": "Another"})) == "uid-conflict"
    assert slug(keeper.post("devices", {"uid": uid, **SCALE, "days": 30})) == "uid-conflict"
    nobody.post(PAIR, {"code": first.json()["pairing"]["code"]})
    assert keeper.post("devices", {"uid": uid, **SCALE}).json()["pairing"] is None


def test_two_who_type_the_same_code_get_one_token(keeper: CarerClient) -> None:
    code = keeper.post("devices", SCALE).json()["pairing"]["code"]

    def pair(_: int) -> int:
        try:
            return Client().post(PAIR, {"code": code}, content_type="application/json").status_code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(6) as pool:
        statuses = list(pool.map(pair, range(6)))
    assert sorted(statuses) == [200, 404, 404, 404, 404, 404]


def test_tokens_and_codes_are_stored_as_hashes(keeper: CarerClient, nobody: CarerClient, owner: Any) -> None:
    code = keeper.post("devices", SCALE).json()["pairing"]["code"]
    token = nobody.post(PAIR, {"code": code}).json()["token"]
    tables = "SELECT d::text FROM people_device d UNION ALL SELECT c::text FROM people_pairingcode c"
    text = repr(
        owner.execute(tables).fetchall() + owner.execute("SELECT new::text FROM records_journal").fetchall()
    )
    assert "Scale at the box" in text
    key, secret = parse_device_token(token) or ("", "")
    assert key in text
    assert secret not in text
    assert not [form for form in (code, code.replace("-", "")) if form in text]


def test_pairing_is_limited_per_address_whatever_forwarding_header_is_sent(keeper: CarerClient) -> None:
    code = keeper.post("devices", SCALE).json()["pairing"]["code"]
    http = Client(raise_request_exception=False)

    def guess(n: int, address: str, typed: str = "AAAA-AAAA") -> Any:
        return http.post(
            PAIR,
            {"code": typed},
            content_type="application/json",
            headers={"X-Forwarded-For": f"198.51.100.{n}"},
            REMOTE_ADDR=address,
        )

    tried = [guess(n, "203.0.113.7").status_code for n in range(30)]
    assert tried.count(404) <= 20  # ten a minute, and a window may end in between
    assert tried[-1] == 429
    refused = guess(99, "203.0.113.7", code)
    assert (slug(refused), int(refused["Retry-After"]) > 0) == ("quota-exceeded", True)
    assert guess(99, "203.0.113.8", code).status_code == 200


def test_the_use_of_a_device_is_noted_by_the_hour_without_a_new_version(
    place: Place, keeper: CarerClient, nobody: CarerClient
) -> None:
    device = paired(keeper, nobody, place)
    device.get("members")
    row = Device.objects.get()
    first = row.last_used_at
    device.get("members")
    row.refresh_from_db()
    assert (row.last_used_at, row.version) == (first, 2)
    Device.objects.update(last_used_at=timezone.now() - timedelta(hours=2))
    device.get("members")
    row.refresh_from_db()
    assert first is not None
    assert row.last_used_at is not None
    assert row.last_used_at >= first
    assert row.version == 2
