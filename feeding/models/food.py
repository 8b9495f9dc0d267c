"""Foods, as their labels describe them."""

from typing import Any

from django.db import models
from django.db.models import Q

from feeding.choices import EnergyMethod, FoodKind
from kennel.records.models import Record, referable


def _percent() -> "models.DecimalField[Any, Any]":
    return models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)


class Food(Record):
    """A dry food, a wet food or a milk replacer with its label analysis in % as fed.

    `energy_kcal_per_kg` follows from the label: the printed figure, else modified Atwater (`energy_method`,
    `energy_is_estimated` when ash had to be assumed).  A replacer counts by the kcal in a mL as made up.
    """

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=FoodKind, default=FoodKind.DRY)
    printed_kcal_per_kg = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    protein_pct = _percent()
    fat_pct = _percent()
    fibre_pct = _percent()
    moisture_pct = _percent()
    ash_pct = _percent()
    calcium_pct = _percent()
    density_g_per_ml = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)
    milk_kcal_per_ml = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)
    bag_kg = models.DecimalField(max_digits=7, decimal_places=3, null=True, blank=True)
    in_use = models.BooleanField(default=True, db_default=True)
    energy_kcal_per_kg = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    energy_method = models.CharField(
        max_length=10, choices=EnergyMethod, default="", db_default="", blank=True
    )
    energy_is_estimated = models.BooleanField(default=False, db_default=False)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            models.CheckConstraint(
                condition=Q(kind=FoodKind.REPLACER, milk_kcal_per_ml__isnull=False)
                | Q(kind__in=[FoodKind.DRY, FoodKind.WET], energy_kcal_per_kg__isnull=False),
                name="feeding_food_has_energy",
                violation_error_message="A food needs its energy: printed, or by its analysis.",
            ),
            models.CheckConstraint(
                condition=Q(energy_kcal_per_kg=None)
                | Q(energy_kcal_per_kg__gte=100, energy_kcal_per_kg__lte=9500),
                name="feeding_food_energy_range",
                violation_error_message="A food holds 100 to 9,500 kcal a kg.",
            ),
        ]
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="feeding_food_list")]

    def __str__(self) -> str:
        return self.name
