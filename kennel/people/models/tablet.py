"""Whose turn it is at a shared tablet."""

from django.db import models

from kennel.people.models.device import Device
from kennel.people.models.membership import Membership


class TabletTurn(models.Model):
    """A member who tapped the name and gave the PIN: for a while the tablet acts for this member.

    One row per tablet: the next member's turn takes the place of the last one's.
    """

    device = models.OneToOneField(Device, on_delete=models.CASCADE, related_name="turn")
    membership = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="turns")
    token_hash = models.CharField(max_length=64, unique=True)
    began_at = models.DateTimeField()
    expires_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.membership} at {self.device}"
