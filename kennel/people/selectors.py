"""The only reader of the identity tables before a kennel is known."""

import hashlib
import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection
from django.db.models import Case, IntegerField, When

from kennel.people import tokens
from kennel.people.choices import RANK, DeviceKind, Role, Scope
from kennel.people.models import Carer, Device, Invitation, Kennel, Membership
from kennel.people.shapes import SHAPES
from kennel.records.door import Actor, KennelHere

COARSE = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class DevicePrincipal:
    """A device that showed a valid token: its kennel and what it may do there."""

    kennel: KennelHere
    actor: Actor
    kind: DeviceKind
    is_authenticated: bool = True

    @property
    def device_id(self) -> int:
        """Internal id of the device."""
        assert self.actor.device_id is not None
        return self.actor.device_id


# A shared tablet alone may look; to write, a member takes a turn at it.
_ALONE = frozenset({Scope.READ.value})
# A PIN is weaker than a passkey: it never makes a keeper, and manages nothing.
_BY_PIN = frozenset({Scope.READ.value, Scope.WRITE.value})
SESSION_SCOPES = frozenset(Scope.values)

_DEVICE = """
    SELECT d.token_hash, d.id, d.scopes, d.expires_at, d.last_used_at, d.name, d.carer_id, m.role, d.kind,
           k.id, k.uid, k.name, k.zone, k.place
    FROM people_device d JOIN people_kennel k ON k.id = d.kennel_id
    LEFT JOIN people_membership m
      ON m.kennel_id = d.kennel_id AND m.carer_id = d.carer_id AND m.ended_at IS NULL
    LEFT JOIN people_carer c ON c.id = d.carer_id
    WHERE d.token_key = %s AND d.revoked_at IS NULL
      AND (d.carer_id IS NULL OR m.id IS NOT NULL AND c.is_active)
"""


def device_by_token(token: str, at: datetime) -> DevicePrincipal | None:
    """The device behind a token; None when it is malformed, unknown, expired, revoked or its carer has left.

    The token of a turn at a shared tablet stands for the tablet and the member whose turn it is.
    """
    if token.startswith("kn_act_"):
        turn = turn_by_token(token, at)
        return turn.principal if turn else None
    parts = tokens.parse_device_token(token)
    if parts is None:
        return None
    key, secret = parts
    with connection.cursor() as cursor:
        cursor.execute(_DEVICE, [key])
        row = cursor.fetchone()
        if row is None or not hmac.compare_digest(bytes(row[0]), hashlib.sha256(secret.encode()).digest()):
            return None
        _, device_id, scopes, expires_at, last_used_at, name, carer_id, role, kind, *kennel = row
        if expires_at <= at:
            return None
        if last_used_at is None or at - last_used_at > COARSE:
            cursor.execute("UPDATE people_device SET last_used_at = %s WHERE id = %s", [at, device_id])
    actor = Actor(
        role=Role(role) if role else Role.CARER,
        carer_id=carer_id,
        device_id=device_id,
        scopes=frozenset(scopes) & _ALONE if kind == DeviceKind.TABLET else frozenset(scopes),
        name=name,
    )
    return DevicePrincipal(KennelHere(*kennel), actor, DeviceKind(kind))


TURN = timedelta(minutes=15)
_SLIDE_AFTER = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Turn:
    """A member's turn at a shared tablet."""

    principal: DevicePrincipal
    carer_id: int
    expires_at: datetime


_TURN = """
    SELECT t.id, t.expires_at, d.id, d.scopes, m.role, c.id, c.name, k.id, k.uid, k.name, k.zone, k.place
    FROM people_tabletturn t
    JOIN people_device d ON d.id = t.device_id AND d.revoked_at IS NULL AND d.expires_at > %s
    JOIN people_membership m ON m.id = t.membership_id AND m.ended_at IS NULL
    JOIN people_carer c ON c.id = m.carer_id AND c.is_active
    JOIN people_kennel k ON k.id = d.kennel_id AND k.id = m.kennel_id
    WHERE t.token_hash = %s AND t.expires_at > %s
"""


def turn_by_token(token: str, at: datetime) -> Turn | None:
    """The turn behind a token, or None when it is over.  Using it moves its end to 15 minutes from now."""
    hashed = tokens.parse_turn_token(token)
    if hashed is None:
        return None
    with connection.cursor() as cursor:
        cursor.execute(_TURN, [at, hashed, at])
        row = cursor.fetchone()
        if row is None:
            return None
        turn_id, expires_at, device_id, scopes, role, carer_id, name, *kennel = row
        if expires_at < at + TURN - _SLIDE_AFTER:
            expires_at = at + TURN
            cursor.execute(
                "UPDATE people_tabletturn SET expires_at = %s WHERE id = %s AND token_hash = %s",
                [expires_at, turn_id, hashed],
            )
    actor = Actor(
        role=Role(role) if RANK[Role(role)] < RANK[Role.CARER] else Role.CARER,
        carer_id=carer_id,
        device_id=device_id,
        scopes=frozenset(scopes) & _BY_PIN,
        name=name,
    )
    return Turn(DevicePrincipal(KennelHere(*kennel), actor, DeviceKind.TABLET), carer_id, expires_at)


_MEMBER = """
    SELECT m.role, k.id, k.uid, k.name, k.zone, k.place
    FROM people_membership m JOIN people_kennel k ON k.id = m.kennel_id
    WHERE m.carer_id = %s AND k.uid = %s AND m.ended_at IS NULL
"""


def place_of(carer: Carer, kennel_uid: UUID) -> tuple[KennelHere, Actor] | None:
    """The carer's place in a kennel, or None when there is none (absent and foreign kennels look the same).

    A session opened at a shared tablet has a place only in the tablet's kennel, as carer and tablet together.
    """
    if (turn := carer.turn) is not None:
        here, actor = turn.principal.kennel, turn.principal.actor
        return (here, actor) if here.uid == kennel_uid and turn.carer_id == carer.pk else None
    with connection.cursor() as cursor:
        cursor.execute(_MEMBER, [carer.pk, kennel_uid])
        row = cursor.fetchone()
    if row is None:
        return None
    role, *kennel = row
    actor = Actor(role=Role(role), carer_id=carer.pk, name=carer.name, scopes=SESSION_SCOPES)
    return KennelHere(*kennel), actor


def kennels_of(carer: Carer) -> list[tuple[Kennel, Role]]:
    """Kennels the carer belongs to, by name, with the role there.  One query.

    A session opened at a shared tablet has the tablet's kennel only.
    """
    if (turn := carer.turn) is not None:
        return [(Kennel.objects.get(pk=turn.principal.kennel.id), turn.principal.actor.role)]
    memberships = (
        Membership.objects.filter(carer=carer, ended_at=None)
        .select_related("kennel")
        .order_by("kennel__name")
    )
    return [(m.kennel, Role(m.role)) for m in memberships[:200]]


def here(kennel: Kennel) -> KennelHere:
    """What records need to know of a kennel."""
    return KennelHere(kennel.pk, kennel.uid, kennel.name, kennel.zone, kennel.place)


def kennel_row(kennel_id: int) -> Kennel:
    """A kennel with its settings."""
    return Kennel.objects.get(pk=kennel_id)


@dataclass(frozen=True, slots=True)
class IdentityPage:
    """Rows of an identity type as JSON texts, and the internal id to go on after (None at the end)."""

    rows: list[str]
    next_id: int | None


def identity_rows(kennel_id: int, type_name: str, uids: Sequence[UUID]) -> dict[UUID, tuple[int, str, bool]]:
    """(version, JSON text, whether it is gone) of kennels, memberships, invitations and devices, by uid."""
    shape = SHAPES[type_name]
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT t.uid, t.version, {shape.body(with_private=False)}, {shape.gone} FROM {shape.table} t "  # noqa: S608
            f"{shape.joins} WHERE t.kennel_id = %s AND t.uid = ANY(%s)",
            [kennel_id, list(uids)],
        )
        return {row[0]: (row[1], row[2], row[3]) for row in cursor.fetchall()}


def identity_page(
    kennel_id: int,
    type_name: str,
    *,
    limit: int,
    after: int = 0,
    with_private: bool = False,
    with_gone: bool = True,
    uid: UUID | None = None,
) -> IdentityPage:
    """A page of an identity type in the order the rows were made, by one statement."""
    shape = SHAPES[type_name]
    condition = "" if with_gone else f" AND NOT ({shape.gone})"
    values: list[int | UUID] = [kennel_id, after]
    if uid is not None:
        condition += " AND t.uid = %s"
        values.append(uid)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {shape.body(with_private=with_private)}, t.id FROM {shape.table} t {shape.joins} "  # noqa: S608
            f"WHERE t.kennel_id = %s AND t.id > %s {condition} ORDER BY t.id LIMIT %s",
            [*values, limit + 1],
        )
        rows = cursor.fetchall()
    more = len(rows) > limit
    rows = rows[:limit]
    return IdentityPage([row[0] for row in rows], rows[-1][1] if more else None)


def members_of(kennel_id: int) -> list[Membership]:
    """Members of a kennel now, keepers first."""
    rank = Case(*(When(role=role, then=place) for role, place in RANK.items()), output_field=IntegerField())
    return list(
        Membership.objects.filter(kennel_id=kennel_id, ended_at=None)
        .select_related("carer")
        .order_by(-rank, "carer__name", "pk")[:200]
    )


def membership_of(carer_id: int, kennel_id: int) -> Membership | None:
    """A carer's membership of a kennel now."""
    return Membership.objects.filter(kennel_id=kennel_id, carer_id=carer_id, ended_at=None).first()


def membership_by_uid(kennel_id: int, uid: UUID) -> Membership | None:
    """A membership of this kennel, ended ones too."""
    return Membership.objects.select_related("carer").filter(kennel_id=kennel_id, uid=uid).first()


def devices_of(kennel_id: int) -> list[Device]:
    """Devices of a kennel that are not revoked, newest first."""
    return list(
        Device.objects.filter(kennel_id=kennel_id, revoked_at=None)
        .select_related("carer")
        .order_by("-id")[:200]
    )


def device_of(kennel_id: int, uid: UUID) -> Device | None:
    """A device of this kennel, revoked ones too."""
    return Device.objects.select_related("carer").filter(kennel_id=kennel_id, uid=uid).first()


def invitation_of(kennel_id: int, uid: UUID) -> Invitation | None:
    """An invitation of this kennel, whatever became of it."""
    return (
        Invitation.objects.select_related("accepted_by", "invited_by")
        .filter(kennel_id=kennel_id, uid=uid)
        .first()
    )


def open_invitations_of(kennel_id: int, at: datetime) -> list[Invitation]:
    """Invitations that can still be accepted, newest first."""
    return list(
        Invitation.objects.filter(kennel_id=kennel_id, accepted_at=None, withdrawn_at=None, expires_at__gt=at)
        .select_related("invited_by")
        .order_by("-id")[:200]
    )


def invitation_by_secret(secret: str, at: datetime) -> Invitation | None:
    """The invitation behind a link's token or a typed code, or None when it is unknown, over or withdrawn.

    One that was accepted is found too: sending the acceptance again is harmless.
    """
    hashes = [tokens.hash_of(secret)]
    if (typed := tokens.code_hash(secret)) is not None:
        hashes.append(typed)
    return (
        Invitation.objects.filter(token_hash__in=hashes, withdrawn_at=None, expires_at__gt=at)
        .select_related("kennel")
        .first()
    )


def device_by_pairing_code(typed: str, at: datetime) -> Device | None:
    """The device a pairing code is for; None when the code is unknown, over, used, or the device revoked."""
    hashed = tokens.code_hash(typed)
    if hashed is None:
        return None
    return (
        Device.objects.filter(
            pairing_code__code_hash=hashed,
            pairing_code__used_at=None,
            pairing_code__expires_at__gt=at,
            revoked_at=None,
            expires_at__gt=at,
        )
        .select_related("kennel")
        .first()
    )


def carer_by_address(email: str) -> Carer | None:
    """The carer who signs in with an e-mail address."""
    return Carer.objects.filter(email=email.strip().lower()).first()


def kennels_with_keepers() -> list[tuple[Kennel, list[str]]]:
    """All kennels by name, each with the addresses of its keepers: for a command on the machine itself."""
    kennels = list(Kennel.objects.order_by("name", "pk"))
    keepers: dict[int, list[str]] = {}
    for membership in Membership.objects.filter(role=Role.KEEPER, ended_at=None).select_related("carer"):
        keepers.setdefault(membership.kennel_id, []).append(membership.carer.email)
    return [(kennel, keepers.get(kennel.pk, [])) for kennel in kennels]


def has_carers() -> bool:
    """Whether anybody has an account on this server yet."""
    return Carer.objects.exists()


def kennel_by_uid(uid: UUID) -> Kennel | None:
    """A kennel by its uid, whoever it belongs to: for making kennels and for commands."""
    return Kennel.objects.filter(uid=uid).first()


def all_kennel_ids() -> list[int]:
    """Ids of all kennels: for ticks and commands."""
    return list(Kennel.objects.order_by("pk").values_list("pk", flat=True))
