"""Who belongs to which kennel, and the invitations that lead there."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from kennel.people.choices import Role
from kennel.people.models.kennel import Kennel
from kennel.records.ids import new_uid


class Membership(models.Model):
    """A carer's place in a kennel.  Ended memberships stay, so that old records keep their author."""

    uid = models.UUIDField(default=new_uid, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    kennel = models.ForeignKey(Kennel, on_delete=models.PROTECT, related_name="memberships")
    carer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=8, choices=Role)
    pin_hash = models.CharField(max_length=128, blank=True, default="")
    recorded_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kennel", "uid"], name="people_membership_uid"),
            models.UniqueConstraint(fields=["kennel", "id"], name="people_membership_kennel_id"),
            models.UniqueConstraint(
                fields=["kennel", "carer"], condition=Q(ended_at=None), name="people_membership_once"
            ),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="people_membership_role"),
        ]

    def __str__(self) -> str:
        return f"{self.carer} ({self.get_role_display()})"


class Invitation(models.Model):
    """A single-use way into a kennel: by mail (bound to the address) or as a QR code shown in the room.

    Only a hash of the secret is stored; the secret follows from the server's own secret and the uid.
    """

    uid = models.UUIDField(default=new_uid, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    kennel = models.ForeignKey(Kennel, on_delete=models.PROTECT, related_name="invitations")
    role = models.CharField(max_length=8, choices=Role)
    email = models.EmailField(max_length=254, blank=True, default="")
    token_hash = models.CharField(max_length=64, unique=True)
    recorded_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    invited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kennel", "uid"], name="people_invitation_uid"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="people_invitation_role"),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} for {self.email or 'somebody in the room'}"


class InvitationLetter(models.Model):
    """The mail of an invitation still to be sent: a machine row, claimed and finished by the worker.

    next_attempt_at is schedule, lease and backoff at once.
    """

    kennel = models.ForeignKey(
        Kennel, on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    invitation = models.OneToOneField(Invitation, on_delete=models.CASCADE, related_name="letter")
    attempts = models.PositiveSmallIntegerField(default=0)
    next_attempt_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["next_attempt_at"], condition=Q(sent_at=None), name="people_letter_unsent"),
        ]

    def __str__(self) -> str:
        return f"letter of {self.invitation_id}"
