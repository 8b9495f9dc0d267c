"""A kennel: the tenant every record belongs to."""

from django.db import models
from django.db.models import F

from kennel.people.choices import MassUnit, TemperatureUnit
from kennel.records.ids import new_uid


class Kennel(models.Model):
    """One kennel, usually somebody's home.  `kennel_id` repeats the id, so that the journal trigger fits."""

    uid = models.UUIDField(default=new_uid, unique=True, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=64)
    mass_unit = models.CharField(max_length=2, choices=MassUnit, default=MassUnit.GRAM)
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS
    )
    place = models.CharField(max_length=12, blank=True, default="")
    vet_name = models.CharField(max_length=80, blank=True, default="")
    vet_phone = models.CharField(max_length=40, blank=True, default="")
    night_vet_phone = models.CharField(max_length=40, blank=True, default="")
    settings = models.JSONField(default=dict, blank=True)
    recorded_at = models.DateTimeField()
    kennel_id = models.GeneratedField(
        expression=F("id"),  # type: ignore[arg-type]  # an F is what Django documents here
        output_field=models.BigIntegerField(),
        db_persist=True,
    )

    def __str__(self) -> str:
        return self.name
