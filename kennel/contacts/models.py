"""A person or practice outside the kennel."""

from django.db import models

from kennel.records.models import Record, referable


class ContactKind(models.TextChoices):
    """What somebody is to the kennel."""

    BUYER = "buyer", "buyer or new owner"
    VET = "vet", "vet"
    OTHER = "other", "other"


class Contact(Record):
    """Name and ways to reach somebody.  `erased_at` marks a row emptied on request."""

    kind = models.CharField(max_length=8, choices=ContactKind)
    name = models.CharField(max_length=80)
    email = models.CharField(max_length=254, default="", db_default="", blank=True)
    phone = models.CharField(max_length=40, default="", db_default="", blank=True)
    address = models.CharField(max_length=500, default="", db_default="", blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)
    erased_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta(Record.Meta):
        constraints = [*Record.Meta.constraints, referable()]
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="contacts_contact_list")]

    def __str__(self) -> str:
        return self.name or "(erased)"
