"""Devices, their pairing, and turns at a shared tablet."""

from typing import Annotated, Any
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from pydantic import BaseModel, ConfigDict, Field
from rest_framework.views import APIView

from kennel.api.base import KennelView
from kennel.api.components import INSTANT, UID, Json, page_of
from kennel.api.people import (
    MAYBE_INSTANT,
    MAYBE_TEXT,
    TEXT,
    WHY_UID,
    IdentityView,
    PageQuery,
    described,
)
from kennel.api.preconditions import etag, parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.people import limits
from kennel.people.addresses import client_address, network_of
from kennel.people.choices import DeviceKind, Role, Scope
from kennel.people.qr import qr_svg
from kennel.people.selectors import DevicePrincipal
from kennel.people.services import devices, tablets
from kennel.records import door, service
from kennel.records.fields import Name, Uid, ref, whole
from kennel.records.refusals import Refusal


class DeviceInput(BaseModel):
    """What a device is to be.  member: whose it is (a membership's uid), none for a shared one.

    days: how long its token lasts.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    uid: Uid | None = Field(default=None, description=WHY_UID)
    name: Name
    kind: DeviceKind
    scopes: Annotated[list[Scope], Field(min_length=1, max_length=3)] = Field(
        default=[Scope.READ, Scope.WRITE]
    )
    member: ref("membership") | None = None  # type: ignore[valid-type]  # a type made per call
    days: whole(1, devices.LONGEST_DAYS) = devices.LONGEST_DAYS  # type: ignore[valid-type]


class PairInput(BaseModel):
    """The code the keeper's screen shows."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    code: Annotated[str, Field(min_length=1, max_length=32)]


class TurnInput(BaseModel):
    """Who steps up to the tablet (a membership's uid), and the PIN."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    member: ref("membership")  # type: ignore[valid-type]  # a type made per call
    pin: Annotated[str, Field(min_length=1, max_length=32)]


class PinInput(BaseModel):
    """A PIN of 4 to 8 digits."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    pin: Annotated[str, Field(min_length=1, max_length=32)]


DEVICE: Json = described(
    "A device; `last_used_at` (to the hour) is there for keepers only.",
    uid=UID,
    version={"type": "integer"},
    name=TEXT,
    kind={"type": "string", "enum": DeviceKind.values},
    scopes={"type": "array", "items": {"type": "string", "enum": Scope.values}},
    carer={"type": ["string", "null"], "format": "uuid"},
    carer_name=MAYBE_TEXT,
    is_paired={"type": "boolean"},
    recorded_at=INSTANT,
    expires_at=INSTANT,
    revoked_at=MAYBE_INSTANT,
    deleted={"type": "boolean"},
)
DEVICE["properties"]["last_used_at"] = MAYBE_INSTANT
_PAIRING: Json = described(
    "A code that pairs the device once, within ten minutes.",
    code=TEXT,
    expires_at=INSTANT,
    url=TEXT,
    qr_svg=TEXT,
)
MADE: Json = {
    **DEVICE,
    "properties": {**DEVICE["properties"], "pairing": {"anyOf": [_PAIRING, {"type": "null"}]}},
}


def pairing_shape(pairing: devices.Pairing | None) -> dict[str, Any] | None:
    """A pairing code with the address to open on the device, as text and as QR."""
    if pairing is None:
        return None
    url = f"{settings.ORIGIN}{reverse('web:pair')}?{urlencode({'code': pairing.code})}"
    return {"code": pairing.code, "expires_at": pairing.expires_at, "url": url, "qr_svg": qr_svg(url)}


class DeviceView(IdentityView):
    """Base of the views of devices."""

    type_name = "device"

    def made(self, made: devices.Made, status: int) -> HttpResponse:
        """A device with its pairing code."""
        pairing = pairing_shape(made.pairing)
        return self.shown(made.device.uid, status, replayed=made.replayed, pairing=pairing)


class DeviceList(DeviceView):
    """Devices of this kennel."""

    query_input = PageQuery
    body_input = DeviceInput
    answer_schema = {"GET": page_of(DEVICE), "POST": MADE}
    answer_status = {"POST": 201}
    also_status = {"POST": (200,)}
    slugs = ("uid-conflict", "parent-missing")

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of the devices that are not revoked."""
        return self.page(request)

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Make a device that waits to be paired with the code in the answer."""
        checked = service.check(DeviceInput, request.data)
        new = devices.NewDevice(
            name=checked.name,
            kind=checked.kind,
            scopes=tuple(checked.scopes),
            member=checked.member,
            days=checked.days,
            uid=checked.uid,
        )
        with door.write(self.here, self.actor, self.at) as opened:
            made = devices.device_create(new, opened)
        return self.made(made, 200 if made.replayed else 201)


class DeviceItem(DeviceView):
    """One device."""

    answer_schema = {"GET": DEVICE, "DELETE": {}}
    answer_status = {"DELETE": 204}
    needs_if_match = ("DELETE",)
    slugs = ("version-mismatch", "precondition-required")

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The device as it is now, revoked ones too (marked so)."""
        return self.shown(parse_uid(uid))

    def delete(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Revoke the device: its token is dead from the next request on."""
        with door.write(self.here, self.actor, self.at) as opened:
            revoked = devices.device_revoke(parse_uid(uid), self.accepted(), opened)
        return HttpResponse(status=204, headers={"ETag": etag(revoked.version)})


class DevicePairing(DeviceView):
    """Pairing a device again."""

    answer_schema = MADE

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """A new pairing code; the one before is dead, the token in use lasts until the new code is used."""
        with door.write(self.here, self.actor, self.at) as opened:
            made = devices.device_pairing_renew(parse_uid(uid), opened)
        return self.made(made, 200)


class DevicePair(APIView):
    """Pairing, from the device itself."""

    authentication_classes = []
    permission_classes = []
    body_input = PairInput
    answer_schema = described(
        "The device's token: shown now and never again.",
        token=TEXT,
        device=described("The device.", uid=UID, name=TEXT, kind=TEXT, expires_at=INSTANT),
        kennel=described("Its kennel.", uid=UID, name=TEXT, zone=TEXT),
    )

    def post(self, request: Any) -> HttpResponse:
        """Use up a pairing code and get the device's token; ten tries a minute per address."""
        at = timezone.now()
        checked = service.check(PairInput, request.data)
        address = network_of(client_address(request._request))
        if (wait_s := limits.take(limits.PAIRING, address, at)) is not None:
            raise Refusal("quota-exceeded", extra={"retry_after_s": wait_s})
        paired = devices.device_pair(checked.code, at, request_id=request._request.request_id)
        device, here = paired.device, paired.kennel
        body = {
            "token": paired.token,
            "device": {
                "uid": device.uid,
                "name": device.name,
                "kind": device.kind,
                "expires_at": device.expires_at,
            },
            "kennel": {"uid": here.uid, "name": here.name, "zone": here.zone},
        }
        return json_response(dumps(body), store=False)


class TabletAct(KennelView):
    """Turns at a shared tablet."""

    body_input = TurnInput
    answer_schema = {
        "POST": described(
            "The turn's token, to be sent in place of the tablet's own.",
            token=TEXT,
            expires_at=INSTANT,
            member=described("Whose turn it is.", uid=UID, name=TEXT, role=TEXT),
        ),
        "DELETE": {},
    }
    answer_status = {"DELETE": 204}

    def place(self, request: Any, **kwargs: Any) -> None:
        """A shared tablet of this kennel, whatever its token may write: the PIN is what opens more."""
        found = self._find(request.user, parse_uid(kwargs["kennel"]))
        if found is None:
            raise Refusal("not-found")
        self.here, self.actor = found
        if not isinstance(request.user, DevicePrincipal) or request.user.kind != DeviceKind.TABLET:
            raise Refusal("forbidden", "Only a shared tablet takes turns.")
        if Scope.READ not in self.actor.scopes:
            raise Refusal("forbidden", "This token's scope does not allow that.")

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Step up with name and PIN: for 15 minutes after each request the tablet acts for this member."""
        checked = service.check(TurnInput, request.data)
        taken = tablets.turn_take(request.user, checked.member, checked.pin, self.at)
        membership = taken.membership
        body = {
            "token": taken.token,
            "expires_at": taken.expires_at,
            "member": {"uid": membership.uid, "name": membership.carer.name, "role": membership.role},
        }
        return json_response(dumps(body), store=False)

    def delete(self, request: Any, kennel: str) -> HttpResponse:
        """Step back: the turn ends at once."""
        tablets.turn_end(request.user)
        return HttpResponse(status=204)


class TabletPin(IdentityView):
    """The caller's own PIN for the shared tablet."""

    type_name = "membership"
    write_role = Role.READER
    body_input = PinInput
    answer_schema: dict[str, Json] = {"POST": {}, "DELETE": {}}
    answer_status = {"POST": 204, "DELETE": 204}

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Set a PIN of 4 to 8 digits; the old one and a turn begun with it end."""
        hashed = tablets.pin_hash(service.check(PinInput, request.data).pin)
        with door.write(self.here, self.actor, self.at) as opened:
            tablets.pin_set(hashed, opened)
        return HttpResponse(status=204)

    def delete(self, request: Any, kennel: str) -> HttpResponse:
        """Do without a PIN."""
        with door.write(self.here, self.actor, self.at) as opened:
            tablets.pin_remove(opened)
        return HttpResponse(status=204)
