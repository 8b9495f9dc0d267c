"""Members of a kennel: changing a role, ending a membership, recovering a lost keeper.

Everything here runs inside `kennel.records.door.write`, whose lock makes the count of keepers sure.
"""

from uuid import UUID

from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Invitation, Membership, PairingCode, TabletTurn
from kennel.people.services.versions import expect
from kennel.records.door import Door
from kennel.records.refusals import FieldError, Refusal


def member_change_role(uid: UUID, role: Role, accepted: frozenset[int] | None, door: Door) -> Membership:
    """Give a member another role.

    Raises Refusal: not-found, version-mismatch, validation for the last keeper.
    """
    membership = _member(uid, door)
    if membership.ended_at is not None:
        raise Refusal("not-found", "This membership has ended.")
    if membership.role == role:
        return membership
    expect(membership.version, accepted)
    if membership.role == Role.KEEPER:
        _refuse_last_keeper(membership, door, "#/role")
        _withdraw_what_a_keeper_left_open(membership, door)
    Membership.objects.filter(pk=membership.pk).update(role=role)
    membership.refresh_from_db(fields=["role", "version"])
    return membership


def member_end(uid: UUID, accepted: frozenset[int] | None, door: Door) -> Membership:
    """End a membership: from the next request on nothing of this kennel is there for this carer.

    Their own devices here are revoked and their turn at a tablet ends; what they recorded stays.
    Raises Refusal: not-found, version-mismatch, validation for the last keeper.
    """
    membership = _member(uid, door)
    if membership.ended_at is not None:
        return membership
    expect(membership.version, accepted)
    if membership.role == Role.KEEPER:
        _refuse_last_keeper(membership, door, "#")
        _withdraw_what_a_keeper_left_open(membership, door)
    Membership.objects.filter(pk=membership.pk).update(ended_at=door.at, pin_hash="")
    Device.objects.filter(kennel_id=door.kennel.id, carer_id=membership.carer_id, revoked_at=None).update(
        revoked_at=door.at
    )
    TabletTurn.objects.filter(membership=membership).delete()
    membership.refresh_from_db(fields=["ended_at", "version"])
    return membership


def member_make_keeper(carer: Carer, door: Door) -> Membership:
    """Make a carer a keeper of this kennel, member or not.  For the command that recovers a lost keeper."""
    membership = Membership.objects.filter(kennel_id=door.kennel.id, carer=carer, ended_at=None).first()
    if membership is None:
        return member_add(carer, Role.KEEPER, door)
    Membership.objects.filter(pk=membership.pk).update(role=Role.KEEPER)
    membership.refresh_from_db(fields=["role", "version"])
    return membership


def member_add(carer: Carer, role: Role, door: Door) -> Membership:
    """Add a carer who is no member of this kennel now."""
    return Membership.objects.create(kennel_id=door.kennel.id, carer=carer, role=role, recorded_at=door.at)


def _member(uid: UUID, door: Door) -> Membership:
    membership = Membership.objects.filter(kennel_id=door.kennel.id, uid=uid).first()
    if membership is None:
        raise Refusal("not-found")
    return membership


def _refuse_last_keeper(leaving: Membership, door: Door, pointer: str) -> None:
    others = Membership.objects.filter(kennel_id=door.kennel.id, role=Role.KEEPER, ended_at=None)
    if not others.exclude(pk=leaving.pk).exists():
        text = "This is the last keeper. Make somebody else a keeper first."
        raise Refusal("validation", "", [FieldError(pointer, "last_keeper", text)])


def _withdraw_what_a_keeper_left_open(keeper: Membership, door: Door) -> None:
    # An invitation in a pocket or a pairing code on a photo must not be a way back in.
    Invitation.objects.filter(
        kennel_id=door.kennel.id, invited_by_id=keeper.carer_id, accepted_at=None, withdrawn_at=None
    ).update(withdrawn_at=door.at)
    PairingCode.objects.filter(device__kennel_id=door.kennel.id, used_at=None).delete()
