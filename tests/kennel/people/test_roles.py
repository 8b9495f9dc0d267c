"""Who may do what: every operation of the people API against every kind of caller, with one setup for all."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from kennel.people import tokens
from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Invitation, Membership, TabletTurn
from kennel.people.selectors import TURN
from kennel.people.services.invitations import NewInvitation, invitation_create
from kennel.records import door
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import BACKEND, CarerClient, make_carer

pytestmark = pytest.mark.usefixtures("db")

CALLERS = (
    "keeper",
    "carer",
    "reader",
    "ex-member",
    "other kennel's keeper",
    "nobody",
    "keeper's phone",
    "keeper's managing program",
    "looking program",
    "shared scale",
    "tablet",
    "keeper's turn",
    "expired token",
    "revoked token",
)
NOT_HERE = {
    "ex-member": 404,
    "other kennel's keeper": 404,
    "nobody": 401,
    "expired token": 401,
    "revoked token": 401,
}


@dataclass
class World:
    """A kennel and somebody to act upon."""

    place: Place
    target: Membership
    device: Device
    invitation: Invitation

    def caller(self, who: str) -> Any:
        """A client of one kind."""
        return _CALLERS[who](self.place)


def _device(
    place: Place, scopes: tuple[str, ...], carer: Carer | None = None, **columns: Any
) -> DeviceClient:
    device, token = make_device(place, scopes, carer)
    if columns:
        Device.objects.filter(pk=device.pk).update(**columns)
    return DeviceClient(place, token=token)


def _ex_member(place: Place) -> CarerClient:
    carer = add_member(place, Role.KEEPER)
    Membership.objects.filter(carer=carer).update(ended_at=timezone.now())
    return CarerClient(place, carer)


def _turn(place: Place) -> DeviceClient:
    tablet, _ = make_device(place, ("read", "write", "manage"))
    Device.objects.filter(pk=tablet.pk).update(kind="tablet")
    membership = Membership.objects.get(carer=place.keeper)
    token, hashed = tokens.new_turn_token()
    at = timezone.now()
    TabletTurn.objects.create(
        device=tablet, membership=membership, token_hash=hashed, began_at=at, expires_at=at + TURN
    )
    return DeviceClient(place, token=token)


_CALLERS: dict[str, Callable[[Place], Any]] = {
    "keeper": lambda p: CarerClient(p, p.keeper),
    "carer": lambda p: CarerClient(p, add_member(p, Role.CARER)),
    "reader": lambda p: CarerClient(p, add_member(p, Role.READER)),
    "ex-member": _ex_member,
    "other kennel's keeper": lambda p: CarerClient(p, make_kennel("Elsewhere").keeper),
    "nobody": lambda p: CarerClient(p, None),
    "keeper's phone": lambda p: _device(p, ("read", "write"), p.keeper),
    "keeper's managing program": lambda p: _device(p, ("read", "write", "manage"), p.keeper),
    "looking program": lambda p: _device(p, ("read",), p.keeper),
    "shared scale": lambda p: _device(p, ("read", "write", "manage")),
    "tablet": lambda p: _device(p, ("read", "write", "manage"), kind="tablet"),
    "keeper's turn": _turn,
    "expired token": lambda p: _device(p, ("read", "write"), p.keeper, expires_at=timezone.now()),
    "revoked token": lambda p: _device(p, ("read", "write"), p.keeper, revoked_at=timezone.now()),
}


@pytest.fixture
def world() -> World:
    place = make_kennel()
    device, _ = make_device(place)
    with door.write(place.here, place.actor, timezone.now()) as opened:
        made = invitation_create(NewInvitation(role=Role.CARER), opened, sends_mail=False)
    add_member(place, Role.KEEPER)  # so that nothing is refused for the last keeper's sake
    target = Membership.objects.get(carer=add_member(place, Role.READER))
    return World(place, target, device, made.invitation)


def all_of(status: int) -> dict[str, int]:
    return dict.fromkeys(CALLERS, status)


# Members read; carers see devices, keepers invitations.  What changes them is for keepers in person, or for a
# program of theirs that may manage.  A PIN makes a carer of a keeper.
READERS = {**all_of(200), **NOT_HERE}
DEVICE_READERS = {**READERS, "reader": 403}
KEEPER_READERS = {**DEVICE_READERS, "carer": 403, "shared scale": 403, "tablet": 403, "keeper's turn": 403}


def managers(status: int) -> dict[str, int]:
    return {**all_of(403), **NOT_HERE, "keeper": status, "keeper's managing program": status}


def in_person(status: int) -> dict[str, int]:
    return {**managers(status), "carer": status, "reader": status}


TABLETS_ONLY = {**all_of(403), **NOT_HERE, "tablet": 422, "keeper's turn": 422}
IF_MATCH = {"If_Match": '"v1"'}

OPERATIONS: dict[str, tuple[str, str, Any, dict[str, str], dict[str, int]]] = {
    "list members": ("GET", "members", None, {}, READERS),
    "read a member": ("GET", "members/{target}", None, {}, READERS),
    "change a role": ("PATCH", "members/{target}", {"role": "carer"}, IF_MATCH, managers(200)),
    "end a membership": ("DELETE", "members/{target}", None, IF_MATCH, managers(204)),
    "list invitations": ("GET", "invitations", None, {}, KEEPER_READERS),
    "read an invitation": ("GET", "invitations/{invitation}", None, {}, KEEPER_READERS),
    "invite": ("POST", "invitations", {"role": "reader"}, {}, managers(201)),
    "withdraw an invitation": ("DELETE", "invitations/{invitation}", None, IF_MATCH, managers(204)),
    "list devices": ("GET", "devices", None, {}, DEVICE_READERS),
    "read a device": ("GET", "devices/{device}", None, {}, DEVICE_READERS),
    "make a device": ("POST", "devices", {"name": "Scale", "kind": "scale"}, {}, managers(201)),
    "pair a device again": ("POST", "devices/{device}/pairing", None, {}, managers(200)),
    "revoke a device": ("DELETE", "devices/{device}", None, IF_MATCH, managers(204)),
    "step up": ("POST", "tablet/act", {"member": "{target}", "pin": "40718"}, {}, TABLETS_ONLY),
    "step back": (
        "DELETE",
        "tablet/act",
        None,
        {},
        {**TABLETS_ONLY, "tablet": 204, "keeper's turn": 204},
    ),
    "set the own PIN": ("POST", "tablet/pin", {"pin": "40718"}, {}, in_person(204)),
    "do without a PIN": ("DELETE", "tablet/pin", None, {}, in_person(204)),
    "read the settings": ("GET", "/api/v1/kennels/{kennel}", None, {}, READERS),
    "change the settings": ("PATCH", "/api/v1/kennels/{kennel}", {"name": "New"}, IF_MATCH, managers(200)),
}


@pytest.mark.parametrize("operation", OPERATIONS)
def test_each_operation_answers_each_caller_as_written(world: World, operation: str) -> None:
    method, path, body, headers, expected = OPERATIONS[operation]
    names = {
        "target": world.target.uid,
        "device": world.device.uid,
        "invitation": world.invitation.uid,
        "kennel": world.place.here.uid,
    }
    if isinstance(body, dict):
        body = {
            key: value.format(**names) if isinstance(value, str) else value for key, value in body.items()
        }
    # Those who may come last: what they change would otherwise turn a refusal into an absence.
    order = sorted(CALLERS, key=lambda who: expected[who] < 300)
    found = {}
    for who in order:
        answer = world.caller(who).send(method, path.format(**names), body, **headers)
        found[who] = answer.status_code
        if answer.status_code == 404:
            assert answer.json()["detail"] == "Nothing here."
    # A second caller who may finds the effect there already, which is no refusal either.
    assert found == expected


def test_accepting_needs_a_person(world: World) -> None:
    with door.write(world.place.here, world.place.actor, timezone.now()) as opened:
        code = invitation_create(NewInvitation(role=Role.CARER), opened, sends_mail=False).code
    found = {
        who: world.caller(who).send("POST", "/api/v1/invitations/accept", {"code": code}).status_code
        for who in (
            "nobody",
            "keeper's phone",
            "keeper's managing program",
            "tablet",
            "keeper's turn",
            "revoked token",
        )
    }
    assert found == {**dict.fromkeys(found, 403), "nobody": 401, "revoked token": 401}
    newcomer = CarerClient(world.place, make_carer())
    assert newcomer.post("/api/v1/invitations/accept", {"code": code}).status_code == 200


def test_a_session_sends_its_csrf_token_with_every_write(world: World) -> None:
    http = Client(enforce_csrf_checks=True)
    http.force_login(world.place.keeper, backend=BACKEND)
    path = f"/api/v1/kennels/{world.place.here.uid}/invitations"
    send: dict[str, Any] = {"data": b'{"role": "reader"}', "content_type": "application/json"}
    assert http.post(path, **send).status_code == 403
    http.get("/accounts/logout/")
    token = http.cookies["csrf"].value
    assert http.post(path, **send, headers={"X-CSRFToken": token}).status_code == 201
