"""Invitations: a link by mail, bound to the address, or a code for somebody standing in the room."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from allauth.account.models import EmailAddress

from kennel.people import selectors, tokens
from kennel.people.choices import Role
from kennel.people.models import Carer, Invitation, InvitationLetter, Membership
from kennel.people.services.accounts import carer_settle
from kennel.people.services.members import member_add
from kennel.people.services.versions import expect
from kennel.records import door as doors
from kennel.records.door import Actor, Door, KennelHere
from kennel.records.ids import new_uid
from kennel.records.refusals import FieldError, Refusal, invalid

BY_MAIL = timedelta(days=7)
IN_THE_ROOM = timedelta(hours=1)
MOST_OPEN = 50
MOST_LETTERS_A_DAY = 30
LATER_S = 3600


@dataclass(frozen=True)
class NewInvitation:
    """Whom to invite as what; without an address it is for somebody standing in the room."""

    role: Role
    email: str = ""
    uid: UUID | None = None


@dataclass(frozen=True)
class Invited:
    """An invitation as it was made, the code to show (None by mail), and whether it was there already."""

    invitation: Invitation
    code: str | None
    replayed: bool = False


def invitation_create(new: NewInvitation, door: Door, *, sends_mail: bool) -> Invited:
    """Invite somebody.  By mail the letter leaves within a minute; in the room the code is in the answer.

    Runs inside `door.write`.  A known uid ends as a replay, or as Refusal("uid-conflict") for other content.
    Raises Refusal: validation (no mail here, a member already, too many open), quota-exceeded for letters.
    """
    email = new.email.strip().lower()
    if new.uid and (known := Invitation.objects.filter(kennel_id=door.kennel.id, uid=new.uid).first()):
        if (known.role, known.email) != (new.role, email):
            raise Refusal("uid-conflict", "This uid is known here with other content.")
        return Invited(known, code_of(known, door.at), replayed=True)
    _refuse_what_makes_no_sense(email, door, sends_mail=sends_mail)
    uid = new.uid or new_uid()
    secret_hash = _link_hash(door.kennel.id, uid) if email else _room_hash(door.kennel.id, uid)
    invitation = Invitation.objects.create(
        uid=uid,
        kennel_id=door.kennel.id,
        role=new.role,
        email=email,
        token_hash=secret_hash,
        recorded_at=door.at,
        expires_at=door.at + (BY_MAIL if email else IN_THE_ROOM),
        invited_by_id=door.actor.carer_id,
    )
    if email:
        InvitationLetter.objects.create(
            kennel_id=door.kennel.id, invitation=invitation, next_attempt_at=door.at
        )
    return Invited(invitation, code_of(invitation, door.at))


def invitation_withdraw(uid: UUID, accepted: frozenset[int] | None, door: Door) -> Invitation:
    """Withdraw an invitation: its link or code is dead from the next request on.

    Runs inside `door.write`.  Raises Refusal: not-found, version-mismatch, validation when it was accepted.
    """
    invitation = Invitation.objects.filter(kennel_id=door.kennel.id, uid=uid).first()
    if invitation is None:
        raise Refusal("not-found")
    if invitation.withdrawn_at is not None:
        return invitation
    expect(invitation.version, accepted)
    if invitation.accepted_at is not None:
        raise _whole("accepted", "This invitation was accepted; end the membership instead.")
    Invitation.objects.filter(pk=invitation.pk).update(withdrawn_at=door.at)
    invitation.refresh_from_db(fields=["withdrawn_at", "version"])
    return invitation


@dataclass(frozen=True)
class Joined:
    """The kennel somebody belongs to now, and whether that was so before."""

    kennel: KennelHere
    membership: Membership
    was_member: bool


def invitation_accept(secret: str, carer: Carer, at: datetime, *, request_id: UUID | None = None) -> Joined:
    """Join the kennel of an invitation.  Opens the door itself: only the invitation tells which kennel it is.

    secret: a link's token or a typed code.  Accepting again is harmless; an invitation by mail is for its
    address alone.  Raises Refusal: not-found for every secret that does not fit, forbidden for another one.
    """
    found = selectors.invitation_by_secret(secret, at)
    if found is None:
        raise Refusal("not-found", NOT_FOUND)
    here = selectors.here(found.kennel)
    actor = Actor(role=Role(found.role), carer_id=carer.pk, name=carer.name, request_id=request_id)
    with doors.write(here, actor, at) as door:
        joined = _accept_here(found.pk, carer, door)
    carer_settle(carer, here.zone)
    if found.email:
        # Who has the link has read the mail: the address is theirs.
        EmailAddress.objects.filter(user_id=carer.pk, email=found.email).update(verified=True)
    return joined


NOT_FOUND = "This invitation is not known, was used, was withdrawn, or its time is over."


def _accept_here(invitation_id: int, carer: Carer, door: Door) -> Joined:
    invitation = Invitation.objects.get(pk=invitation_id)
    membership = selectors.membership_of(carer.pk, door.kennel.id)
    if invitation.withdrawn_at is not None or invitation.expires_at <= door.at:
        raise Refusal("not-found", NOT_FOUND)
    if invitation.accepted_at is not None:
        if invitation.accepted_by_id == carer.pk and membership is not None:
            return Joined(door.kennel, membership, was_member=True)
        raise Refusal("not-found", NOT_FOUND)
    if invitation.email and not _is_theirs(invitation.email, carer):
        raise Refusal("forbidden", "This invitation was sent to another address. Sign in with that one.")
    if membership is not None:
        return Joined(door.kennel, membership, was_member=True)
    membership = member_add(carer, Role(invitation.role), door)
    Invitation.objects.filter(pk=invitation.pk).update(accepted_at=door.at, accepted_by=carer)
    return Joined(door.kennel, membership, was_member=False)


def _is_theirs(address: str, carer: Carer) -> bool:
    proved = EmailAddress.objects.filter(user_id=carer.pk, email=address, verified=True)
    return address == carer.email or proved.exists()


def link_token_of(invitation: Invitation) -> str:
    """The token in the mailed link of an invitation."""
    return tokens.link_token("invitation", invitation.kennel_id, invitation.uid)


def code_of(invitation: Invitation, at: datetime) -> str | None:
    """The code of an invitation made in the room while it can be accepted, else None."""
    is_open = (
        invitation.accepted_at is None and invitation.withdrawn_at is None and invitation.expires_at > at
    )
    if invitation.email or not is_open:
        return None
    return tokens.code("invitation", invitation.kennel_id, invitation.uid)


def _link_hash(kennel_id: int, uid: UUID) -> str:
    return tokens.hash_of(tokens.link_token("invitation", kennel_id, uid))


def _room_hash(kennel_id: int, uid: UUID) -> str:
    hashed = tokens.code_hash(tokens.code("invitation", kennel_id, uid))
    assert hashed is not None
    return hashed


def _refuse_what_makes_no_sense(email: str, door: Door, *, sends_mail: bool) -> None:
    still_open = Invitation.objects.filter(
        kennel_id=door.kennel.id, accepted_at=None, withdrawn_at=None, expires_at__gt=door.at
    )
    if still_open.count() >= MOST_OPEN:
        raise _whole("too_many", f"{MOST_OPEN} invitations are open; withdraw some first.")
    if not email:
        return
    if not sends_mail:
        raise invalid(
            "email", "no_mail", "This server sends no mail. Leave the address out and show the code."
        )
    if Membership.objects.filter(kennel_id=door.kennel.id, carer__email=email, ended_at=None).exists():
        raise invalid("email", "member", "Somebody with this address is a member already.")
    # Counted per person, not per kennel: anybody can make more kennels, and the letters go to strangers.
    mailed = Invitation.objects.filter(
        invited_by_id=door.actor.carer_id, recorded_at__gt=door.at - timedelta(days=1)
    ).exclude(email="")
    if mailed.count() >= MOST_LETTERS_A_DAY:
        raise Refusal(
            "quota-exceeded", "Enough invitations were mailed today.", extra={"retry_after_s": LATER_S}
        )


def _whole(code: str, text: str) -> Refusal:
    return Refusal("validation", "", [FieldError("#", code, text)])
