"""Devices that act for a kennel: phones, shared tablets, scales, programs."""

from datetime import timedelta

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from kennel.people.choices import DeviceKind, Scope
from kennel.people.models.kennel import Kennel
from kennel.records.ids import new_uid

LONGEST_LIFE = timedelta(days=400)


class Device(models.Model):
    """A device of one kennel.  Its token is shown once; only the SHA-256 of the 256-bit secret is stored."""

    uid = models.UUIDField(default=new_uid, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    kennel = models.ForeignKey(Kennel, on_delete=models.PROTECT, related_name="devices")
    carer = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="devices"
    )
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=DeviceKind)
    scopes = ArrayField(models.CharField(max_length=16, choices=Scope))
    token_key = models.CharField(max_length=16, unique=True, null=True)
    token_hash = models.BinaryField(max_length=32, null=True)
    recorded_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kennel", "uid"], name="people_device_uid"),
            models.CheckConstraint(condition=Q(kind__in=DeviceKind.values), name="people_device_kind"),
            models.CheckConstraint(
                condition=Q(expires_at__lte=F("recorded_at") + LONGEST_LIFE), name="people_device_life"
            ),
            models.CheckConstraint(
                condition=Q(scopes__contained_by=Scope.values), name="people_device_scopes"
            ),
            models.CheckConstraint(
                # A shared tablet is nobody's own: who acts on it is said by name and PIN.
                condition=~Q(kind=DeviceKind.TABLET) | Q(carer=None),
                name="people_device_tablet_shared",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PairingCode(models.Model):
    """A code for one device, good for ten minutes and one use; typed or read from a QR.

    Only a keyed hash is stored.  The code follows from the server's secret, the device and `expires_at`, so
    that an answer that got lost can be given again.
    """

    device = models.OneToOneField(Device, on_delete=models.CASCADE, related_name="pairing_code")
    code_hash = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"pairing code of {self.device}"
