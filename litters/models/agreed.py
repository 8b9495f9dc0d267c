"""What a kennel agreed with its vet or decided itself, in place of a published figure or rule."""

from django.db import models

from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent
from litters.choices import FigureArea


class AgreedFigure(Record):
    """A figure that stands in place of a published one, with whom it was agreed and when.

    Of several for one figure the one agreed last stands; earlier ones stay readable.
    """

    area = models.CharField(max_length=16, choices=FigureArea)
    key = models.CharField(max_length=60)
    value = models.DecimalField(max_digits=12, decimal_places=4)
    agreed_with = models.CharField(max_length=80)
    agreed_on = models.DateField()
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_agreedfigure_list")]

    def __str__(self) -> str:
        return f"{self.area} {self.key}"


class RuleSetting(Record):
    """A rule of the kennel's place switched off, or with the value the kennel read itself; the newest one stands."""

    rule_key = models.CharField(max_length=60)
    is_enabled = models.BooleanField(default=True, db_default=True)
    value = models.PositiveIntegerField(null=True, blank=True)
    source = models.CharField(max_length=200, default="", db_default="", blank=True)
    read_on = models.DateField(null=True, blank=True)

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_rulesetting_list")]

    def __str__(self) -> str:
        return self.rule_key


class Waiver(Record):
    """Something that keeps a pup from leaving, set aside: why, and who said so."""

    pup = parent("litters.Pup")
    hold_key = models.CharField(max_length=120)
    why = models.CharField(max_length=200)
    said_by = models.CharField(max_length=80)

    class Meta(Record.Meta):
        constraints = [*Record.Meta.constraints, *same_kennel("pup")]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_waiver_list"),
            models.Index(fields=["kennel", "pup"], name="litters_waiver_pup"),
        ]

    def __str__(self) -> str:
        return self.hold_key
