"""A litter, from the day it is expected."""

from django.db import models
from django.db.models import F, Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable


class Litter(Record):
    """Pups of one dam from one whelping; `whelped_at` is empty while it is expected."""

    name = models.CharField(max_length=80)
    dam = parent("litters.Dog")
    sire = parent("litters.Dog", null=True, blank=True)
    season = parent("litters.Season", null=True, blank=True)
    mated_on = models.DateField(null=True, blank=True)
    whelped_at = models.DateTimeField(null=True, blank=True)
    weaned_on = models.DateField(null=True, blank=True)
    expected_adult_kg = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    expected_pups = models.PositiveSmallIntegerField(null=True, blank=True)
    closed_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("dam", "sire", "season"),
            models.CheckConstraint(
                condition=Q(sire=None) | ~Q(sire=F("dam")),
                name="litters_litter_two_parents",
                violation_error_message="Dam and sire are two different dogs.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_litter_list"),
            models.Index(fields=["dam"], name="litters_litter_dam"),
            models.Index(fields=["sire"], name="litters_litter_sire"),
        ]

    def __str__(self) -> str:
        return self.name
