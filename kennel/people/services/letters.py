"""Sending the letters of invitations: claimed short, sent outside the transaction, then finished.

The rows are read and finished through the jobs role, which sees all kennels.
"""

import smtplib
from dataclasses import dataclass
from datetime import datetime, timedelta

import structlog
from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse

from kennel.people.models import InvitationLetter
from kennel.people.services.invitations import link_token_of

log = structlog.get_logger(__name__)
JOBS = "jobs"
LEASE = timedelta(seconds=60)
PAUSES = tuple(timedelta(seconds=s) for s in (15, 60, 300, 900, 3600))


@dataclass(frozen=True)
class Sent:
    """What one round did: letters sent, and letters that will be tried again."""

    sent: int
    postponed: int


def letters_send(at: datetime, *, limit: int = 20) -> Sent:
    """Send the letters that are due.  A letter whose sender dies is taken up again a minute later.

    Two rounds at once never send the same letter; one cut off between sending and finishing is sent again (it
    says the same and has the same Message-ID).
    """
    sent = postponed = 0
    for letter in _claim(at, limit):
        if _deliver(letter):
            InvitationLetter.objects.using(JOBS).filter(pk=letter.pk).update(sent_at=at)
            sent += 1
        else:
            pause = PAUSES[min(letter.attempts, len(PAUSES)) - 1]
            InvitationLetter.objects.using(JOBS).filter(pk=letter.pk).update(next_attempt_at=at + pause)
            postponed += 1
    return Sent(sent, postponed)


def _claim(at: datetime, limit: int) -> list[InvitationLetter]:
    due = (
        InvitationLetter.objects.using(JOBS)
        .filter(sent_at=None, next_attempt_at__lte=at)
        .filter(invitation__accepted_at=None, invitation__withdrawn_at=None, invitation__expires_at__gt=at)
    )
    with transaction.atomic(using=JOBS):
        letters = list(
            due.select_related("invitation__kennel", "invitation__invited_by")
            .select_for_update(skip_locked=True, of=("self",))
            .order_by("next_attempt_at", "pk")[:limit]
        )
        for letter in letters:
            letter.attempts += 1
            letter.next_attempt_at = at + LEASE
        InvitationLetter.objects.using(JOBS).bulk_update(letters, ["attempts", "next_attempt_at"])
    return letters


def _deliver(letter: InvitationLetter) -> bool:
    invitation = letter.invitation
    path = reverse("web:join", kwargs={"secret": link_token_of(invitation)})
    values = {"invitation": invitation, "kennel": invitation.kennel, "url": settings.ORIGIN + path}
    message = EmailMessage(
        subject=f"Invitation to {invitation.kennel.name}",
        body=render_to_string("people/mail/invitation.txt", values),
        to=[invitation.email],
        headers={
            "Auto-Submitted": "auto-generated",
            "Message-ID": f"<invitation-{invitation.uid}@{settings.ALLOWED_HOSTS[0]}>",
        },
    )
    try:
        message.send()
    except (smtplib.SMTPException, OSError) as error:
        log.warning("letter not sent", letter=letter.pk, error=type(error).__name__)
        return False
    return True
