"""A meal offered to a litter, and what came back."""

from django.db import models
from django.db.models import Q, Value

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class Meal(Fact):
    """Food offered to a litter at `occurred_at`.

    dry_g: food before water, in g.  left_wet_g: what came back, weighed as it was.  absent: uids of pups that
    did not come to the bowl.  planned_*: what the plan asked for by the weights known then, without the
    correction from earlier leftovers; empty where there was no plan.
    """

    litter = parent("litters.Litter")
    food = parent("feeding.Food", null=True, blank=True)
    dry_g = models.DecimalField(max_digits=8, decimal_places=1)
    water_ml = models.DecimalField(max_digits=8, decimal_places=1, default=0)
    left_wet_g = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    bowls = models.PositiveSmallIntegerField(null=True, blank=True)
    absent = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    planned_dry_g = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    planned_energy_kcal = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("litter", "food"),
            models.CheckConstraint(
                condition=Q(dry_g__gte=0, water_ml__gte=0) & (Q(left_wet_g=None) | Q(left_wet_g__gte=0)),
                name="feeding_meal_not_negative",
                violation_error_message="Amounts of food and water are 0 or more.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="feeding_meal_list"),
            models.Index(fields=["kennel", "litter", "-occurred_at", "-id"], name="feeding_meal_litter"),
            models.Index(
                fields=["kennel", "food", "occurred_at"],
                name="feeding_meal_food",
                condition=Q(food__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.dry_g} g"
