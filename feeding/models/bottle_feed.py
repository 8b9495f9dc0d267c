"""A bottle or tube feed of one pup."""

from django.db import models
from django.db.models import Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class BottleFeed(Fact):
    """Milk offered to and taken by a pup, its temperature before, and whether urine and stool came."""

    pup = parent("litters.Pup")
    milk = parent("feeding.Food", null=True, blank=True)
    offered_ml = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    taken_ml = models.DecimalField(max_digits=5, decimal_places=1)
    temp_c = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    is_sucking = models.BooleanField(null=True, blank=True)
    by_tube = models.BooleanField(default=False, db_default=False)
    urine_seen = models.BooleanField(default=False, db_default=False)
    stool_seen = models.BooleanField(default=False, db_default=False)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("pup", "milk"),
            models.CheckConstraint(
                condition=Q(taken_ml__gte=0) & (Q(offered_ml=None) | Q(offered_ml__gte=0)),
                name="feeding_bottlefeed_not_negative",
                violation_error_message="A volume is 0 or more.",
            ),
            models.CheckConstraint(
                condition=Q(temp_c=None) | Q(temp_c__gte=25, temp_c__lte=45),
                name="feeding_bottlefeed_temperature",
                violation_error_message="A body temperature lies between 25 and 45 degrees Celsius.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="feeding_bottlefeed_list"),
            models.Index(fields=["kennel", "pup", "-occurred_at", "-id"], name="feeding_bottlefeed_pup"),
        ]

    def __str__(self) -> str:
        return f"{self.taken_ml} mL"
