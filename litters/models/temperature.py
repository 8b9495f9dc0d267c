"""A body temperature read at an instant."""

from django.db import models
from django.db.models import Q

from kennel.people.choices import TemperatureUnit
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class Temperature(Fact):
    """Rectal temperature of one pup or one grown dog in degrees Celsius, with what was typed beside it."""

    pup = parent("litters.Pup", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    temp_c = models.DecimalField(max_digits=4, decimal_places=2)
    entered_value = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    entered_unit = models.CharField(max_length=1, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("pup", "dog"),
            models.CheckConstraint(
                condition=Q(pup=None, dog__isnull=False) | Q(pup__isnull=False, dog=None),
                name="litters_temperature_one_animal",
                violation_error_message="A temperature belongs to one pup or to one dog.",
            ),
            models.CheckConstraint(
                condition=Q(temp_c__gte=25, temp_c__lte=45),
                name="litters_temperature_range",
                violation_error_message="A body temperature lies between 25 and 45 degrees Celsius.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_temperature_list"),
            models.Index(
                fields=["kennel", "pup", "-occurred_at"],
                name="litters_temperature_pup",
                condition=Q(pup__isnull=False),
            ),
            models.Index(
                fields=["kennel", "dog", "-occurred_at"],
                name="litters_temperature_dog",
                condition=Q(dog__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.temp_c} °C"
