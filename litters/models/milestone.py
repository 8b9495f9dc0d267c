"""Something a pup does for the first time."""

from django.db import models

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent
from litters.choices import MilestoneKind


class Milestone(Fact):
    """Eyes open, first steps and the like, of one pup."""

    pup = parent("litters.Pup")
    kind = models.CharField(max_length=16, choices=MilestoneKind)

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("pup")]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_milestone_list"),
            models.Index(fields=["kennel", "pup", "-occurred_at"], name="litters_milestone_pup"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
