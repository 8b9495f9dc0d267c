"""The shared tablet: a member sets a PIN; name and PIN give a turn in which the tablet acts for them."""

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from uuid import UUID

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from kennel.people import limits, selectors, tokens
from kennel.people.choices import DeviceKind
from kennel.people.models import Membership, TabletTurn
from kennel.people.selectors import TURN, DevicePrincipal
from kennel.records.door import Door
from kennel.records.refusals import Refusal, invalid


def pin_hash(pin: str) -> str:
    """Argon2 hash of a PIN, slow on purpose: make it before the door is opened.

    Raises Refusal("validation") unless it is 4 to 8 digits that are not all the same nor counted up or down
    (those are tried first: common practice, no source).
    """
    if not (pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 8):
        raise invalid("pin", "digits", "A PIN has 4 to 8 digits.")
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {9}):
        raise invalid("pin", "easy", "Everybody would try this one first. Choose another.")
    return make_password(pin)


def pin_set(hashed: str, door: Door) -> Membership:
    """Give the acting member a new PIN; a turn begun with the old one ends.  Runs inside `door.write`."""
    membership = _own(door)
    Membership.objects.filter(pk=membership.pk).update(pin_hash=hashed)
    TabletTurn.objects.filter(membership=membership).delete()
    membership.refresh_from_db(fields=["pin_hash", "version"])
    return membership


def pin_remove(door: Door) -> Membership:
    """Take the acting member's PIN away: no turns at the tablet from now on.  Runs inside `door.write`."""
    return pin_set("", door)


def _own(door: Door) -> Membership:
    membership = selectors.membership_of(door.actor.carer_id, door.kennel.id) if door.actor.carer_id else None
    if membership is None:
        raise Refusal("forbidden", "Only a member has a PIN.")
    return membership


@dataclass(frozen=True)
class TurnTaken:
    """A turn that just began: its token, shown now and never again."""

    token: str
    expires_at: datetime
    membership: Membership


def turn_take(tablet: DevicePrincipal, member: UUID, pin: str, at: datetime) -> TurnTaken:
    """Begin a member's turn at a shared tablet; the turn before it ends.

    Raises Refusal: forbidden (no shared tablet), not-found (no such member), quota-exceeded (too many tries,
    per member and per tablet), validation (the PIN does not fit, or none is set: the answers are alike).
    """
    if tablet.kind != DeviceKind.TABLET:
        raise Refusal("forbidden", "Only a shared tablet takes turns.")
    membership = selectors.membership_by_uid(tablet.kennel.id, member)
    if membership is None or membership.ended_at is not None:
        raise Refusal("not-found")
    for limit, subject in (
        (limits.PIN_AT_DEVICE, tablet.device_id),
        (limits.PIN_OF_MEMBER, membership.pk),
    ):
        if (wait_s := limits.take(limit, subject, at)) is not None:
            raise Refusal(
                "quota-exceeded", "Too many tries. Wait, or sign in.", extra={"retry_after_s": wait_s}
            )
    # Without a PIN the same work is done, so that time does not tell who has one.
    if not check_password(pin, membership.pin_hash or _NO_PIN) or not membership.pin_hash:
        raise invalid("pin", "wrong", "The PIN does not fit.")
    limits.forget(limits.PIN_OF_MEMBER, membership.pk, at)
    limits.forget(limits.PIN_AT_DEVICE, tablet.device_id, at)
    return _begin(tablet, membership, at)


_NO_PIN = "!"  # Django's sign of a password nobody has; checking against it costs as much


def _begin(tablet: DevicePrincipal, membership: Membership, at: datetime) -> TurnTaken:
    token, hashed = tokens.new_turn_token()
    expires_at = at + TURN
    with transaction.atomic():
        # Somebody may have changed the PIN or ended the membership while this one was checked.
        still = Membership.objects.select_for_update().filter(
            pk=membership.pk, pin_hash=membership.pin_hash, ended_at=None
        )
        if not still.exists():
            raise invalid("pin", "wrong", "The PIN does not fit.")
        TabletTurn.objects.update_or_create(
            device_id=tablet.device_id,
            defaults={
                "membership": membership,
                "token_hash": hashed,
                "began_at": at,
                "expires_at": expires_at,
            },
        )
    return TurnTaken(token, expires_at, membership)


def turn_end(tablet: DevicePrincipal) -> None:
    """End the turn at a tablet; harmless when there is none."""
    TabletTurn.objects.filter(device_id=tablet.device_id).delete()
