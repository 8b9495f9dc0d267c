"""Devices: made by a keeper with a one-time code, paired by whoever holds the device, revoked at once."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from kennel.people import selectors, tokens
from kennel.people.choices import DeviceKind, Role, Scope
from kennel.people.models import Device, Membership, PairingCode, TabletTurn
from kennel.people.services.versions import expect
from kennel.records import door as doors
from kennel.records.door import Actor, Door, KennelHere
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal, invalid

PAIRING = timedelta(minutes=10)
LONGEST_DAYS = 400


@dataclass(frozen=True)
class NewDevice:
    """What a device is to be.  member: uid of the membership it belongs to, None when it is shared.

    days: how long its token lasts, 1 to 400.
    """

    name: str
    kind: DeviceKind
    scopes: tuple[Scope, ...] = (Scope.READ, Scope.WRITE)
    member: UUID | None = None
    days: int = LONGEST_DAYS
    uid: UUID | None = None


@dataclass(frozen=True)
class Pairing:
    """A code to show or to put into a QR, and until when it works."""

    code: str
    expires_at: datetime


@dataclass(frozen=True)
class Made:
    """A device, its pairing code while it can be paired, and whether it was there already."""

    device: Device
    pairing: Pairing | None
    replayed: bool = False


def device_create(new: NewDevice, door: Door) -> Made:
    """Make a device that waits to be paired.  Runs inside `door.write`.

    A known uid ends as a replay (with the same code while that works) or as Refusal("uid-conflict").
    Raises Refusal: validation for a tablet that belongs to one member, parent-missing for an unknown member.
    """
    known = Device.objects.filter(kennel_id=door.kennel.id, uid=new.uid).first() if new.uid else None
    if known:
        if not _is_same(known, new, door):
            raise Refusal("uid-conflict", "This uid is known here with other content.")
        return Made(known, pairing_of(known, door.at), replayed=True)
    if not 1 <= new.days <= LONGEST_DAYS:
        raise invalid("days", "range", f"A token lasts 1 to {LONGEST_DAYS} days.")
    if new.kind == DeviceKind.TABLET and new.member is not None:
        raise invalid(
            "member", "shared", "A shared tablet belongs to nobody; members take turns with their PIN."
        )
    device = Device.objects.create(
        uid=new.uid or new_uid(),
        kennel_id=door.kennel.id,
        carer_id=_carer_of(new.member, door),
        name=new.name,
        kind=new.kind,
        scopes=_in_order(new.scopes),
        recorded_at=door.at,
        expires_at=door.at + timedelta(days=new.days),
    )
    return Made(device, _issue(device, door.at))


def device_pairing_renew(uid: UUID, door: Door) -> Made:
    """A new pairing code for a device, such as a tablet that was wiped; the code before it is dead.

    The token in use goes on until the new code is used.
    Runs inside `door.write`.  Raises Refusal("not-found").
    """
    device = _device(uid, door)
    if device.revoked_at is not None or device.expires_at <= door.at:
        raise Refusal("not-found", "This device was revoked or its time is over.")
    PairingCode.objects.filter(device=device).delete()
    return Made(device, _issue(device, door.at))


def device_revoke(uid: UUID, accepted: frozenset[int] | None, door: Door) -> Device:
    """Revoke a device: its token, its pairing code and the turn at it are dead from the next request on.

    Runs inside `door.write`.  Raises Refusal: not-found, version-mismatch.
    """
    device = _device(uid, door)
    if device.revoked_at is not None:
        return device
    expect(device.version, accepted)
    Device.objects.filter(pk=device.pk).update(revoked_at=door.at)
    PairingCode.objects.filter(device=device).delete()
    TabletTurn.objects.filter(device=device).delete()
    device.refresh_from_db(fields=["revoked_at", "version"])
    return device


@dataclass(frozen=True)
class Paired:
    """A device that was just paired, its kennel, and its token: shown now and never again."""

    device: Device
    kennel: KennelHere
    token: str


def device_pair(typed: str, at: datetime, *, request_id: UUID | None = None) -> Paired:
    """Pair the device a code is for: the code is used up, and a token in use before is dead.

    Opens the door itself.  Raises Refusal("not-found") for every code that does not fit; limit tries outside.
    """
    found = selectors.device_by_pairing_code(typed, at)
    if found is None:
        raise Refusal("not-found", NOT_FOUND)
    here = selectors.here(found.kennel)
    token, key, digest = tokens.new_device_token()
    actor = Actor(
        role=Role.CARER, carer_id=found.carer_id, device_id=found.pk, name=found.name, request_id=request_id
    )
    with doors.write(here, actor, at):
        # The code may have been used, or replaced by another, since it was looked up.
        used = PairingCode.objects.filter(
            device_id=found.pk, code_hash=tokens.code_hash(typed), used_at=None, expires_at__gt=at
        ).update(used_at=at)
        paired = used and Device.objects.filter(pk=found.pk, revoked_at=None).update(
            token_key=key, token_hash=digest
        )
        if not paired:
            raise Refusal("not-found", NOT_FOUND)
        TabletTurn.objects.filter(device_id=found.pk).delete()
        found.refresh_from_db()
    return Paired(found, here, token)


NOT_FOUND = "This code is not known, was used, or its ten minutes are over."


def pairing_of(device: Device, at: datetime) -> Pairing | None:
    """The code a device can be paired with now, else None."""
    code = PairingCode.objects.filter(device=device, used_at=None, expires_at__gt=at).first()
    return (
        Pairing(_code(device, code.expires_at), code.expires_at)
        if code and device.revoked_at is None
        else None
    )


def _issue(device: Device, at: datetime) -> Pairing:
    expires_at = at + PAIRING
    code = _code(device, expires_at)
    hashed = tokens.code_hash(code)
    assert hashed is not None
    PairingCode.objects.create(device=device, code_hash=hashed, expires_at=expires_at)
    return Pairing(code, expires_at)


def _code(device: Device, expires_at: datetime) -> str:
    return tokens.code("pairing", device.kennel_id, device.uid, expires_at.timestamp())


def _device(uid: UUID, door: Door) -> Device:
    device = Device.objects.filter(kennel_id=door.kennel.id, uid=uid).first()
    if device is None:
        raise Refusal("not-found")
    return device


def _carer_of(member: UUID | None, door: Door) -> int | None:
    if member is None:
        return None
    membership = Membership.objects.filter(kennel_id=door.kennel.id, uid=member, ended_at=None).first()
    if membership is None:
        raise Refusal("parent-missing", "This member is not here.")
    return membership.carer_id


def _is_same(known: Device, new: NewDevice, door: Door) -> bool:
    owner = None
    if new.member is not None:
        membership = Membership.objects.filter(kennel_id=door.kennel.id, uid=new.member).first()
        owner = membership.carer_id if membership else -1
    return (
        known.name,
        known.kind,
        sorted(known.scopes),
        known.carer_id,
        known.expires_at - known.recorded_at,
    ) == (new.name, new.kind, sorted(_in_order(new.scopes)), owner, timedelta(days=new.days))


def _in_order(scopes: tuple[Scope, ...]) -> list[str]:
    return [scope.value for scope in Scope if scope in scopes]
