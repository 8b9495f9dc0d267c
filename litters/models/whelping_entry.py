"""One line of the whelping log."""

from django.db import models
from django.db.models import Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent
from litters.choices import DischargeColour, StrainingStrength, WhelpingKind

APGAR_PARTS = ("heart_rate", "breathing", "reflex", "motility", "colour")


class WhelpingEntry(Fact):
    """What was seen at an instant of labour.  A birth may name its pup; a viability score has five parts, 0 to 2."""

    litter = parent("litters.Litter")
    kind = models.CharField(max_length=24, choices=WhelpingKind)
    pup = parent("litters.Pup", null=True, blank=True)
    strength = models.CharField(
        max_length=8, choices=StrainingStrength, default="", db_default="", blank=True
    )
    discharge = models.CharField(
        max_length=12, choices=DischargeColour, default="", db_default="", blank=True
    )
    is_alive = models.BooleanField(default=True, db_default=True)
    apgar_heart_rate = models.PositiveSmallIntegerField(null=True, blank=True)
    apgar_breathing = models.PositiveSmallIntegerField(null=True, blank=True)
    apgar_reflex = models.PositiveSmallIntegerField(null=True, blank=True)
    apgar_motility = models.PositiveSmallIntegerField(null=True, blank=True)
    apgar_colour = models.PositiveSmallIntegerField(null=True, blank=True)
    vet_name = models.CharField(max_length=80, default="", db_default="", blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("litter", "pup"),
            models.CheckConstraint(
                condition=~Q(kind=WhelpingKind.APGAR)
                | Q(pup__isnull=False, **{f"apgar_{part}__in": (0, 1, 2) for part in APGAR_PARTS}),
                name="litters_whelpingentry_apgar",
                violation_error_message="A viability score needs its pup and all five parts, 0 to 2 each.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_whelping_list"),
            models.Index(fields=["kennel", "litter", "-occurred_at"], name="litters_whelping_litter"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
