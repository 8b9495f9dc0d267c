"""Something that happened to an animal's health."""

from django.db import models
from django.db.models import Q

from health.choices import HealthEventKind
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class HealthEvent(Fact):
    """Diarrhoea, an injury, a vet visit, a test: of one pup, one dog or a whole litter.

    vet: who saw it.  result: of a test, or what the vet said.  ended_on: the day it was over.
    """

    pup = parent("litters.Pup", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    litter = parent("litters.Litter", null=True, blank=True)
    kind = models.CharField(max_length=10, choices=HealthEventKind)
    vet = models.CharField(max_length=200, default="", db_default="", blank=True)
    result = models.CharField(max_length=200, default="", db_default="", blank=True)
    ended_on = models.DateField(null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("pup", "dog", "litter"),
            models.CheckConstraint(
                condition=Q(pup=None, dog=None, litter__isnull=False)
                | Q(pup=None, dog__isnull=False, litter=None)
                | Q(pup__isnull=False, dog=None, litter=None),
                name="health_healthevent_one_subject",
                violation_error_message="It belongs to one pup, one dog or one litter.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="health_event_list"),
            models.Index(
                fields=["kennel", "pup", "-occurred_at"],
                name="health_event_pup",
                condition=Q(pup__isnull=False),
            ),
            models.Index(
                fields=["kennel", "dog", "-occurred_at"],
                name="health_event_dog",
                condition=Q(dog__isnull=False),
            ),
            models.Index(
                fields=["kennel", "litter", "-occurred_at"],
                name="health_event_litter",
                condition=Q(litter__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return str(self.get_kind_display())
