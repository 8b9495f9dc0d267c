"""Pups that are booked, go home, and come back."""

from django.db import models

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, Record, parent
from litters.choices import DepartureKind


class Departure(Fact):
    """A pup left at `occurred_at`; a later return of the same pup ends its absence."""

    pup = parent("litters.Pup")
    kind = models.CharField(max_length=12, choices=DepartureKind)
    contact = parent("contacts.Contact", null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("pup", "contact")]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_departure_list"),
            models.Index(fields=["kennel", "pup", "occurred_at"], name="litters_departure_pup"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Return(Fact):
    """A pup that had left came back at `occurred_at`."""

    pup = parent("litters.Pup")

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("pup")]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_return_list"),
            models.Index(fields=["kennel", "pup", "occurred_at"], name="litters_return_pup"),
        ]

    def __str__(self) -> str:
        return "came back"


class Booking(Record):
    """A pup promised to somebody, or a place on the waiting list of a litter."""

    litter = parent("litters.Litter")
    pup = parent("litters.Pup", null=True, blank=True)
    contact = parent("contacts.Contact", null=True, blank=True)
    leaves_on = models.DateField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    travels_to = models.CharField(max_length=80, default="", db_default="", blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            *same_kennel("litter", "pup", "contact"),
            models.UniqueConstraint(
                fields=["pup"],
                condition=models.Q(ended_on=None, deleted_at=None, pup__isnull=False),
                name="litters_booking_pup_once",
                violation_error_message="This pup is booked already.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_booking_list"),
            models.Index(fields=["kennel", "litter"], name="litters_booking_litter"),
        ]

    def __str__(self) -> str:
        return "booking"
