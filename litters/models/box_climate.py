"""The climate of the whelping box, read at an instant."""

from django.db import models
from django.db.models import Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class BoxClimate(Fact):
    """Temperature where the pups lie (`surface_c`), of the area around (`area_c`), and relative humidity."""

    litter = parent("litters.Litter")
    surface_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    area_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    humidity_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("litter"),
            models.CheckConstraint(
                condition=Q(surface_c__isnull=False)
                | Q(area_c__isnull=False)
                | Q(humidity_pct__isnull=False),
                name="litters_boxclimate_something",
                violation_error_message="Give at least one reading.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_boxclimate_list"),
            models.Index(fields=["kennel", "litter", "-occurred_at"], name="litters_boxclimate_litter"),
        ]

    def __str__(self) -> str:
        return f"{self.surface_c or self.area_c} °C"
