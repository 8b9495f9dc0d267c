"""A worming scheme or a vaccination series as a kennel follows it."""

from django.db import models
from django.db.models import Q

from health.choices import PlanKind
from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable


class TreatmentPlan(Record):
    """A scheme for the pups of a litter, for its dam, or for one dog, until `ended_on` (that day excluded).

    scheme: the published one it was chosen from.  phases (worming) and series (vaccination) are its rules,
    copied at first and editable.  starts_on: for schemes that count from the plan's own start.
    weigh_first_minutes: how long before its time of day weights are asked for, 0 for never.
    """

    name = models.CharField(max_length=120, default="", db_default="", blank=True)
    kind = models.CharField(max_length=12, choices=PlanKind, editable=False)
    litter = parent("litters.Litter", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    medicine = parent("health.Medicine", null=True, blank=True)
    scheme = models.CharField(max_length=40)
    phases = models.JSONField(null=True, blank=True)
    series = models.JSONField(null=True, blank=True)
    starts_on = models.DateField(null=True, blank=True)
    wall_time = models.CharField(max_length=5, default="08:00")
    weigh_first_minutes = models.PositiveSmallIntegerField(default=120)
    ended_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("litter", "dog", "medicine"),
            models.CheckConstraint(
                condition=Q(litter=None, dog__isnull=False) | Q(litter__isnull=False, dog=None),
                name="health_treatmentplan_one_subject",
                violation_error_message="A plan belongs to one litter or to one dog.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="health_plan_list"),
            models.Index(fields=["kennel", "litter"], name="health_plan_litter"),
            models.Index(fields=["kennel", "dog"], name="health_plan_dog"),
            models.Index(fields=["kennel", "medicine"], name="health_plan_medicine"),
        ]

    def __str__(self) -> str:
        return self.name or self.scheme
