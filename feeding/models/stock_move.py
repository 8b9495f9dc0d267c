"""Food that came or went."""

from django.db import models
from django.db.models import Q

from feeding.choices import StockMoveKind
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class StockMove(Fact):
    """A mass of a food bought, used, thrown away or weighed; the newest weighing is where the stock starts."""

    food = parent("feeding.Food")
    kind = models.CharField(max_length=12, choices=StockMoveKind)
    mass_g = models.DecimalField(max_digits=10, decimal_places=1)
    best_before_on = models.DateField(null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("food"),
            models.CheckConstraint(
                condition=Q(mass_g__gt=0) | Q(mass_g=0, kind=StockMoveKind.COUNTED),
                name="feeding_stockmove_mass",
                violation_error_message="A mass is above 0; only what was weighed may be 0.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="feeding_stockmove_list"),
            models.Index(fields=["kennel", "food", "-occurred_at", "-id"], name="feeding_stockmove_food"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.mass_g} g"
