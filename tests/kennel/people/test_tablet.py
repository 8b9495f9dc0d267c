"""The shared tablet: PINs, turns that slide and end, limits on guessing, and who an entry is from."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Membership, TabletTurn
from kennel.people.services.tablets import pin_hash, turn_take
from kennel.records.refusals import Refusal
from tests.api import DeviceClient
from tests.factories.people import AT, Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient, slug

pytestmark = pytest.mark.usefixtures("db")
PIN = "40718"
DOG = {"name": "Teasel", "sex": "female"}


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def oona(place: Place) -> Carer:
    carer = add_member(place, Role.CARER)
    set_pin(place, carer)
    return carer


@pytest.fixture
def tablet(place: Place) -> DeviceClient:
    device, token = make_device(place)
    Device.objects.filter(pk=device.pk).update(kind="tablet", name="Tablet at the box")
    return DeviceClient(place, token=token)


def set_pin(place: Place, carer: Carer, pin: str = PIN) -> None:
    assert CarerClient(place, carer).post("tablet/pin", {"pin": pin}).status_code == 204


def member(carer: Carer) -> Membership:
    return Membership.objects.get(carer=carer, ended_at=None)


def act(tablet: DeviceClient, carer: Carer, pin: str = PIN) -> Any:
    return tablet.post("tablet/act", {"member": str(member(carer).uid), "pin": pin})


def turn(tablet: DeviceClient, carer: Carer, pin: str = PIN) -> DeviceClient:
    answer = act(tablet, carer, pin)
    assert answer.status_code == 200, answer.content
    return DeviceClient(tablet.place, token=answer.json()["token"])


def test_the_tablet_alone_looks_and_a_members_turn_records_as_member_and_tablet(
    tablet: DeviceClient, oona: Carer
) -> None:
    assert tablet.get("dogs").status_code == 200
    assert slug(tablet.post("dogs", DOG)) == "forbidden"
    made = turn(tablet, oona).post("dogs", DOG)
    assert made.status_code == 201
    assert (made.json()["recorded_by"], made.json()["recorded_device"]) == (oona.name, "Tablet at the box")
    assert slug(tablet.post("dogs", DOG)) == "forbidden"


def test_a_turn_slides_with_use_and_ends_fifteen_minutes_after_the_last(
    tablet: DeviceClient, oona: Carer
) -> None:
    acting = turn(tablet, oona)
    row = TabletTurn.objects.get()
    assert row.expires_at - row.began_at == timedelta(minutes=15)
    TabletTurn.objects.update(expires_at=timezone.now() + timedelta(minutes=3))
    assert acting.get("dogs").status_code == 200
    row.refresh_from_db()
    assert timedelta(minutes=14) < row.expires_at - timezone.now() <= timedelta(minutes=15)
    TabletTurn.objects.update(expires_at=timezone.now())
    assert acting.get("dogs").status_code == 401
    assert tablet.get("dogs").status_code == 200


def test_the_next_members_turn_ends_the_last_ones(place: Place, tablet: DeviceClient, oona: Carer) -> None:
    idris = add_member(place, Role.CARER)
    set_pin(place, idris, "9152")
    first = turn(tablet, oona)
    second = turn(tablet, idris, "9152")
    assert (first.get("dogs").status_code, second.get("dogs").status_code) == (401, 200)
    assert second.send("DELETE", "tablet/act").status_code == 204
    assert second.get("dogs").status_code == 401


@pytest.mark.parametrize("what", ["tablet revoked", "member left", "new PIN", "PIN removed", "account off"])
def test_a_turn_ends_at_once_with_what_it_stands_on(
    place: Place, tablet: DeviceClient, oona: Carer, what: str
) -> None:
    acting, keeper = turn(tablet, oona), CarerClient(place, place.keeper)
    assert acting.get("dogs").status_code == 200
    if what == "tablet revoked":
        device = Device.objects.get(kind="tablet")
        assert keeper.send("DELETE", f"devices/{device.uid}", version=device.version).status_code == 204
    elif what == "member left":
        row = member(oona)
        assert keeper.send("DELETE", f"members/{row.uid}", version=row.version).status_code == 204
    elif what == "new PIN":
        set_pin(place, oona, "83016")
    elif what == "PIN removed":
        assert CarerClient(place, oona).send("DELETE", "tablet/pin").status_code == 204
    else:
        Carer.objects.filter(pk=oona.pk).update(is_active=False)
    assert acting.get("dogs").status_code == 401


def test_a_pin_never_makes_more_than_a_carer(place: Place, tablet: DeviceClient) -> None:
    set_pin(place, place.keeper)
    acting = turn(tablet, place.keeper)
    assert acting.post("dogs", DOG).status_code == 201
    assert slug(acting.post("invitations", {"role": "keeper"})) == "forbidden"
    own = member(place.keeper)
    assert slug(acting.send("DELETE", f"members/{own.uid}", If_Match=f'"v{own.version}"')) == "forbidden"
    assert slug(acting.post("tablet/pin", {"pin": "83016"})) == "forbidden"


def test_a_readers_turn_reads(place: Place, tablet: DeviceClient) -> None:
    reader = add_member(place, Role.READER)
    set_pin(place, reader)
    acting = turn(tablet, reader)
    assert (acting.get("dogs").status_code, slug(acting.post("dogs", DOG))) == (200, "forbidden")


def outcome(tablet: DeviceClient, carer: Carer, pin: str, at: datetime) -> str:
    """What a try at an instant comes to: "turn", or the slug of its refusal."""
    principal = selectors.device_by_token(tablet.token, timezone.now())
    assert principal is not None
    try:
        turn_take(principal, member(carer).uid, pin, at)
    except Refusal as refusal:
        return refusal.slug
    return "turn"


def test_five_wrong_pins_hold_a_member_back_for_the_rest_of_the_quarter_of_an_hour(
    tablet: DeviceClient, oona: Carer
) -> None:
    assert [outcome(tablet, oona, "11112", AT) for _ in range(5)] == ["validation"] * 5
    assert outcome(tablet, oona, PIN, AT) == "quota-exceeded"
    assert outcome(tablet, oona, PIN, AT + timedelta(minutes=15)) == "turn"


def test_the_right_pin_clears_the_count(tablet: DeviceClient, oona: Carer) -> None:
    four_wrong = ["validation"] * 4
    for _ in range(3):
        assert [outcome(tablet, oona, "11112", AT) for _ in range(4)] == four_wrong
        assert outcome(tablet, oona, PIN, AT) == "turn"


def test_one_tablet_cannot_go_through_all_members(place: Place, tablet: DeviceClient, oona: Carer) -> None:
    many = [add_member(place, Role.READER) for _ in range(5)]
    tried = [outcome(tablet, carer, "11112", AT) for carer in many for _ in range(5)]
    assert tried == ["validation"] * 20 + ["quota-exceeded"] * 5
    assert outcome(tablet, oona, PIN, AT) == "quota-exceeded"
    other_device, token = make_device(place)
    Device.objects.filter(pk=other_device.pk).update(kind="tablet")
    assert outcome(DeviceClient(place, token=token), oona, PIN, AT) == "turn"


def test_a_held_back_try_says_when_to_come_again(tablet: DeviceClient, oona: Carer) -> None:
    statuses = [act(tablet, oona, "11112") for _ in range(11)]  # more than two windows' worth
    assert statuses[0].status_code == 422
    assert (slug(statuses[-1]), 0 < int(statuses[-1]["Retry-After"]) <= 900) == ("quota-exceeded", True)


def test_a_member_without_pin_and_a_wrong_pin_answer_alike(
    place: Place, tablet: DeviceClient, oona: Carer
) -> None:
    without = add_member(place, Role.CARER)
    wrong, none = act(tablet, oona, "11112"), act(tablet, without, "11112")
    assert (wrong.status_code, none.status_code) == (422, 422)
    assert {**wrong.json(), "instance": ""} == {**none.json(), "instance": ""}


def test_only_a_shared_tablet_of_this_kennel_takes_turns(
    place: Place, tablet: DeviceClient, oona: Carer
) -> None:
    phone = DeviceClient(place)
    assert slug(act(phone, oona)) == "forbidden"
    assert (
        slug(CarerClient(place, oona).post("tablet/act", {"member": str(member(oona).uid), "pin": PIN}))
        == "forbidden"
    )
    elsewhere = make_kennel("Elsewhere")
    theirs = member(elsewhere.keeper)
    set_pin(elsewhere, elsewhere.keeper)
    assert slug(tablet.post("tablet/act", {"member": str(theirs.uid), "pin": PIN})) == "not-found"
    assert act(tablet, oona).status_code == 200


def test_a_turn_is_no_way_into_another_kennel(tablet: DeviceClient, place: Place) -> None:
    set_pin(place, place.keeper)
    acting = turn(tablet, place.keeper)
    other = make_kennel("Elsewhere")
    Membership.objects.create(
        kennel_id=other.here.id, carer=place.keeper, role="keeper", recorded_at=timezone.now()
    )
    assert acting.get(f"/api/v1/kennels/{place.here.uid}/dogs").status_code == 200
    assert acting.get(f"/api/v1/kennels/{other.here.uid}/dogs").status_code == 404


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "٤٠٧١٨", "", "4071 8"])
def test_a_pin_has_4_to_8_digits(pin: str) -> None:
    with pytest.raises(Refusal) as refusal:
        pin_hash(pin)
    assert refusal.value.errors[0].code == "digits"


@pytest.mark.parametrize("pin", ["0000", "77777777", "1234", "4321", "7890", "3210"])
def test_a_pin_everybody_tries_first_is_refused(pin: str) -> None:
    with pytest.raises(Refusal) as refusal:
        pin_hash(pin)
    assert refusal.value.errors[0].code == "easy"


@pytest.mark.parametrize("pin", ["4071", "40718", "98107651"])
def test_other_pins_are_taken_and_kept_as_argon2(pin: str) -> None:
    assert pin_hash(pin).startswith("argon2$argon2id$")


def test_a_pin_is_journalled_by_name_only(place: Place, oona: Carer) -> None:
    entries = CarerClient(place, place.keeper).get("journal").json()["results"]
    assert (entries[0]["type"], entries[0]["new"]) == ("membership", {"pin_hash": True})
    assert "argon2" not in repr(entries)
    shown = CarerClient(place, place.keeper).get("members").json()["results"]
    assert {m["name"]: m["has_pin"] for m in shown} == {place.keeper.name: False, oona.name: True}
