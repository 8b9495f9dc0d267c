"""The only reader of the identity tables before a kennel is known."""

import hashlib
import hmac
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection

from kennel.people import tokens
from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Kennel, Membership
from kennel.records.door import Actor, KennelHere

COARSE = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class DevicePrincipal:
    """A device that showed a valid token: its kennel and what it may do there."""

    kennel: KennelHere
    actor: Actor
    is_authenticated: bool = True


_DEVICE = """
    SELECT d.token_hash, d.id, d.scopes, d.expires_at, d.last_used_at, d.name, d.carer_id, m.role,
           k.id, k.uid, k.name, k.zone, k.place
    FROM people_device d JOIN people_kennel k ON k.id = d.kennel_id
    LEFT JOIN people_membership m ON m.kennel_id = d.kennel_id AND m.carer_id = d.carer_id AND m.ended_at IS NULL
    WHERE d.token_key = %s AND d.revoked_at IS NULL AND (d.carer_id IS NULL OR m.id IS NOT NULL)
"""


def device_by_token(token: str, at: datetime) -> DevicePrincipal | None:
    """The device behind a token, or None when it is malformed, unknown, expired, revoked or its carer has left."""
    parts = tokens.parse_device_token(token)
    if parts is None:
        return None
    key, secret = parts
    with connection.cursor() as cursor:
        cursor.execute(_DEVICE, [key])
        row = cursor.fetchone()
        if row is None or not hmac.compare_digest(bytes(row[0]), hashlib.sha256(secret.encode()).digest()):
            return None
        _, device_id, scopes, expires_at, last_used_at, name, carer_id, role, *kennel = row
        if expires_at <= at:
            return None
        if last_used_at is None or at - last_used_at > COARSE:
            cursor.execute("UPDATE people_device SET last_used_at = %s WHERE id = %s", [at, device_id])
    actor = Actor(
        role=Role(role) if role else Role.CARER,
        carer_id=carer_id,
        device_id=device_id,
        scopes=frozenset(scopes),
        name=name,
    )
    return DevicePrincipal(KennelHere(*kennel), actor)


_MEMBER = """
    SELECT m.role, k.id, k.uid, k.name, k.zone, k.place
    FROM people_membership m JOIN people_kennel k ON k.id = m.kennel_id
    WHERE m.carer_id = %s AND k.uid = %s AND m.ended_at IS NULL
"""


def place_of(carer: Carer, kennel_uid: UUID) -> tuple[KennelHere, Actor] | None:
    """The carer's place in a kennel, or None when there is none (absent and foreign kennels look the same)."""
    with connection.cursor() as cursor:
        cursor.execute(_MEMBER, [carer.pk, kennel_uid])
        row = cursor.fetchone()
    if row is None:
        return None
    role, *kennel = row
    return KennelHere(*kennel), Actor(role=Role(role), carer_id=carer.pk, name=carer.name)


def kennels_of(carer: Carer) -> list[tuple[Kennel, Role]]:
    """Kennels the carer belongs to, by name, with the role there.  One query."""
    memberships = Membership.objects.filter(carer=carer, ended_at=None).select_related("kennel").order_by("kennel__name")
    return [(m.kennel, Role(m.role)) for m in memberships[:200]]


def here(kennel: Kennel) -> KennelHere:
    """What records need to know of a kennel."""
    return KennelHere(kennel.pk, kennel.uid, kennel.name, kennel.zone, kennel.place)


def members_of(kennel_id: int) -> list[Membership]:
    """Members of a kennel now, keepers first."""
    return list(
        Membership.objects.filter(kennel_id=kennel_id, ended_at=None)
        .select_related("carer")
        .order_by("-role", "carer__name")[:200]
    )


def devices_of(kennel_id: int) -> list[Device]:
    """Devices of a kennel that are not revoked, newest first."""
    return list(Device.objects.filter(kennel_id=kennel_id, revoked_at=None).order_by("-id")[:200])


def all_kennel_ids() -> list[int]:
    """Ids of all kennels: for ticks and commands."""
    return list(Kennel.objects.order_by("pk").values_list("pk", flat=True))
