"""The base of every record, the counter that orders a kennel's writes, and the journal."""

from typing import Any

from django.conf import settings
from django.db import models

from kennel.people.models import Kennel
from kennel.records.ids import new_uid


class Record(models.Model):
    """Something people state or decide.  Written only through `kennel.records.service`, inside one kennel."""

    # No foreign key or index of its own: the journal trigger refuses a kennel without a counter row, and every
    # unique constraint and list index leads with kennel.
    kennel = models.ForeignKey(
        Kennel,
        on_delete=models.PROTECT,
        related_name="+",
        editable=False,
        db_constraint=False,
        db_index=False,
    )
    uid = models.UUIDField(default=new_uid, editable=False)
    version = models.PositiveIntegerField(default=1, db_default=1, editable=False)
    recorded_at = models.DateTimeField(editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        related_name="+",
        editable=False,
    )
    recorded_device = models.ForeignKey(
        "people.Device",
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        related_name="+",
        editable=False,
    )
    deleted_at = models.DateTimeField(null=True, editable=False)
    reason = models.CharField(max_length=500, db_default="", default="", blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(fields=["kennel", "uid"], name="%(app_label)s_%(class)s_uid"),
        ]


class Fact(Record):
    """A record of something that happened at an instant; kept even when advice spoke against it."""

    occurred_at = models.DateTimeField()
    clock_skew_s = models.IntegerField(null=True, blank=True)
    possible_duplicate_of = models.UUIDField(null=True, blank=True)
    warnings = models.JSONField(default=list, db_default=models.Value([], models.JSONField()))
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        abstract = True


def parent(to: Any, **options: Any) -> "models.ForeignKey[Any, Any]":
    """Foreign key to a record of the same kennel.  Pair it with a `SameKennel` constraint of the same name."""
    options.setdefault("on_delete", models.PROTECT)
    options.setdefault("related_name", "+")
    options.setdefault("db_index", False)  # each model names the index its reads need
    return models.ForeignKey(to, db_constraint=False, **options)


def referable() -> "models.UniqueConstraint":
    """The key a SameKennel constraint points at; every model that others refer to lists it."""
    return models.UniqueConstraint(fields=["kennel", "id"], name="%(app_label)s_%(class)s_kennel_id")


class Counter(models.Model):
    """One row per kennel.  Locked when a writing transaction begins, so journal order equals commit order.

    The app role may lock a row (it may update `holder`) but never set `seq`: only the journal trigger does.
    """

    kennel = models.OneToOneField(Kennel, on_delete=models.PROTECT, primary_key=True, related_name="+")
    epoch = models.PositiveIntegerField(default=1)
    seq = models.BigIntegerField(default=0)
    holder = models.SmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.epoch}-{self.seq}"


class Journal(models.Model):
    """Append-only account of every change, written by trigger; read-only for everybody who serves requests."""

    pk = models.CompositePrimaryKey("kennel_id", "seq")
    kennel = models.ForeignKey(
        Kennel, on_delete=models.PROTECT, related_name="+", db_index=False, db_constraint=False
    )
    seq = models.BigIntegerField()
    at = models.DateTimeField()
    actor_id = models.BigIntegerField(null=True)
    device_id = models.BigIntegerField(null=True)
    request_id = models.UUIDField(null=True)
    type = models.CharField(max_length=40)
    uid = models.UUIDField()
    op = models.CharField(max_length=8)
    version = models.PositiveIntegerField()
    old = models.JSONField(null=True)
    new = models.JSONField(null=True)

    class Meta:
        indexes = [models.Index(fields=["uid"], name="records_journal_uid")]

    def __str__(self) -> str:
        return f"{self.seq} {self.op} {self.type}"
