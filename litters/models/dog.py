"""Dams, sires and the dogs behind them."""

from django.db import models
from django.db.models import Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable
from litters.choices import Sex


class Dog(Record):
    """A grown dog: dam or sire here, or an ancestor known from papers.  Parents lie in the same kennel's records."""

    name = models.CharField(max_length=80)
    registered_name = models.CharField(max_length=200, default="", db_default="", blank=True)
    sex = models.CharField(max_length=8, choices=Sex)
    breed = models.CharField(max_length=80, default="", db_default="", blank=True)
    colour = models.CharField(max_length=80, default="", db_default="", blank=True)
    born_on = models.DateField(null=True, blank=True)
    died_on = models.DateField(null=True, blank=True)
    chip_code = models.CharField(max_length=15, default="", db_default="", blank=True)
    adult_weight_kg = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    lives_here = models.BooleanField(default=True, db_default=True)
    sire = parent("litters.Dog", null=True, blank=True)
    dam = parent("litters.Dog", null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)
    warnings = models.JSONField(default=list, db_default=models.Value([], models.JSONField()), editable=False)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("sire", "dam"),
            models.CheckConstraint(
                condition=~Q(sire=models.F("id")) & ~Q(dam=models.F("id")),
                name="litters_dog_not_own_parent",
                violation_error_message="A dog cannot be its own parent.",
            ),
            models.UniqueConstraint(
                fields=["kennel", "chip_code"],
                condition=~Q(chip_code="") & Q(deleted_at=None),
                name="litters_dog_chip_once",
                violation_error_message="Another dog of this kennel has this chip code.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_dog_list"),
            models.Index(fields=["sire"], name="litters_dog_sire"),
            models.Index(fields=["dam"], name="litters_dog_dam"),
        ]

    def __str__(self) -> str:
        return self.name
