"""A weight read at an instant."""

from django.db import models
from django.db.models import Q

from kennel.people.choices import MassUnit
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent
from litters.choices import WeightSource


class Weighing(Fact):
    """Weight of one pup or one grown dog in grams, with what was typed beside it."""

    pup = parent("litters.Pup", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    weight_g = models.DecimalField(max_digits=9, decimal_places=2)
    entered_value = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    entered_unit = models.CharField(max_length=2, choices=MassUnit, default=MassUnit.GRAM)
    source = models.CharField(max_length=10, choices=WeightSource, default=WeightSource.TYPED)
    is_birth_weight = models.BooleanField(default=False, db_default=False)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("pup", "dog"),
            models.CheckConstraint(
                condition=Q(pup=None, dog__isnull=False) | Q(pup__isnull=False, dog=None),
                name="litters_weighing_one_animal",
                violation_error_message="A weighing belongs to one pup or to one dog.",
            ),
            models.CheckConstraint(
                condition=Q(weight_g__gt=0, weight_g__lte=120_000),
                name="litters_weighing_range",
                violation_error_message="A weight lies above 0 and up to 120 kg.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_weighing_list"),
            models.Index(
                fields=["kennel", "pup", "-occurred_at", "-id"],
                name="litters_weighing_pup",
                condition=Q(pup__isnull=False),
            ),
            models.Index(
                fields=["kennel", "dog", "-occurred_at", "-id"],
                name="litters_weighing_dog",
                condition=Q(dog__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.weight_g} g"
