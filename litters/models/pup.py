"""A pup of a litter, told apart by its band."""

from django.db import models
from django.db.models import Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable
from litters.choices import Fate, Rearing, Sex


class Pup(Record):
    """One pup.  The band's word is what people call it until it has a name; former bands are in its history.

    A pup that stays is also a grown dog of the kennel: `grown_as`.
    """

    litter = parent("litters.Litter")
    band = models.CharField(max_length=40, default="", db_default="", blank=True)
    name = models.CharField(max_length=80, default="", db_default="", blank=True)
    sex = models.CharField(max_length=8, choices=Sex, default=Sex.UNKNOWN)
    colour = models.CharField(max_length=80, default="", db_default="", blank=True)
    marks = models.CharField(max_length=200, default="", db_default="", blank=True)
    born_at = models.DateTimeField()
    birth_order = models.PositiveSmallIntegerField(null=True, blank=True)
    fate = models.CharField(max_length=10, choices=Fate, default=Fate.LIVING)
    died_at = models.DateTimeField(null=True, blank=True)
    rearing = models.CharField(max_length=10, choices=Rearing, default=Rearing.SUCKING)
    chip_code = models.CharField(max_length=15, default="", db_default="", blank=True)
    chipped_on = models.DateField(null=True, blank=True)
    registered_on = models.DateField(null=True, blank=True)
    kept_back = models.CharField(max_length=200, default="", db_default="", blank=True)
    grown_as = parent("litters.Dog", null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)
    warnings = models.JSONField(default=list, db_default=models.Value([], models.JSONField()), editable=False)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("litter", "grown_as"),
            models.CheckConstraint(
                condition=Q(fate=Fate.DIED) | Q(died_at=None),
                name="litters_pup_death_has_fate",
                violation_error_message="Only a pup that died has an hour of death.",
            ),
            models.CheckConstraint(
                condition=Q(died_at=None) | Q(died_at__gte=models.F("born_at")),
                name="litters_pup_death_after_birth",
                violation_error_message="The death cannot lie before the birth.",
            ),
            models.UniqueConstraint(
                fields=["litter", "band"],
                condition=~Q(band="") & Q(deleted_at=None),
                name="litters_pup_band_once",
                violation_error_message="Another pup of this litter wears this band.",
            ),
            models.UniqueConstraint(
                fields=["kennel", "chip_code"],
                condition=~Q(chip_code="") & Q(deleted_at=None),
                name="litters_pup_chip_once",
                violation_error_message="Another pup of this kennel has this chip code.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-born_at", "-id"], name="litters_pup_list"),
            models.Index(fields=["kennel", "litter"], name="litters_pup_litter"),
        ]

    def __str__(self) -> str:
        return self.name or self.band or f"pup {self.birth_order or ''}".strip()
