"""Tables of growth that a vet supplied."""

from django.db import models

from kennel.records.models import Record


class GrowthTable(Record):
    """Centile values by age (L, M, S), for dogs of one sex and range of adult weight, or for all.

    rows: objects with age_days, power (L), median_kg (M), spread (S), by rising age from 84 days.
    """

    name = models.CharField(max_length=80)
    sex = models.CharField(max_length=8, default="", db_default="", blank=True)
    adult_from_kg = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    adult_below_kg = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    rows = models.JSONField()
    supplied_by = models.CharField(max_length=80)
    supplied_on = models.DateField()
    source = models.CharField(max_length=200)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_growthtable_list")]

    def __str__(self) -> str:
        return self.name
