"""Who may knock at the door: one client of each kind of caller."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Membership
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient

EVERYTHING = ("read", "write", "manage")


def member_uid(place: Place, carer: Carer) -> str:
    """Uid of a carer's membership of a kennel."""
    return str(Membership.objects.get(kennel_id=place.here.id, carer=carer).uid)


def _ex_member(place: Place, method: str) -> Any:
    carer = add_member(place, Role.KEEPER)
    Membership.objects.filter(carer=carer).update(ended_at=timezone.now())
    return CarerClient(place, carer)


def _dead_device(place: Place, **columns: Any) -> DeviceClient:
    device, token = make_device(place, EVERYTHING, place.keeper)
    Device.objects.filter(pk=device.pk).update(**columns)
    return DeviceClient(place, token=token)


def _wrong_scope(place: Place, method: str) -> Any:
    scopes = ("write", "manage") if method == "GET" else ("read",)
    return DeviceClient(place, scopes=scopes, carer=place.keeper)


CALLERS: dict[str, Callable[[Place, str], Any]] = {
    "other kennel's keeper": lambda p, m: CarerClient(p, make_kennel("Elsewhere").keeper),
    "ex-member": _ex_member,
    "no token": lambda p, m: CarerClient(p, None),
    "expired": lambda p, m: _dead_device(p, expires_at=timezone.now()),
    "revoked": lambda p, m: _dead_device(p, revoked_at=timezone.now()),
    "wrong scope": _wrong_scope,
    "reader": lambda p, m: CarerClient(p, add_member(p, Role.READER)),
    "carer": lambda p, m: CarerClient(p, add_member(p, Role.CARER)),
    "keeper": lambda p, m: CarerClient(p, p.keeper),
}
