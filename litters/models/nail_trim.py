"""Nails cut."""

from django.db import models

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class NailTrim(Fact):
    """The nails of one pup were cut."""

    pup = parent("litters.Pup")
    paws = models.PositiveSmallIntegerField(default=4)

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("pup")]
        indexes = [models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_nailtrim_list")]

    def __str__(self) -> str:
        return "nails cut"
