"""What happens before a litter: seasons, blood tests, matings, scans."""

from django.db import models
from django.db.models import F, Q

from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, Record, parent, referable
from litters.choices import MatingKind, ProgesteroneUnit, ScanMethod, ScanStructure, ScanUnit


class Season(Record):
    """A dam's season (heat), with the days that a vet read from it: LH surge, ovulation, first day of diestrus."""

    dam = parent("litters.Dog")
    began_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    lh_surge_on = models.DateField(null=True, blank=True)
    ovulated_on = models.DateField(null=True, blank=True)
    diestrus_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("dam"),
            models.CheckConstraint(
                condition=Q(ended_on=None) | Q(ended_on__gte=F("began_on")),
                name="litters_season_ends_after_begin",
                violation_error_message="A season cannot end before it began.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="litters_season_list"),
            models.Index(fields=["kennel", "dam", "-began_on"], name="litters_season_dam"),
        ]

    def __str__(self) -> str:
        return f"season of {self.began_on}"


class ProgesteroneTest(Fact):
    """One blood sample taken at `occurred_at`; the value stays in the unit the analyser printed."""

    dam = parent("litters.Dog")
    season = parent("litters.Season", null=True, blank=True)
    value = models.DecimalField(max_digits=6, decimal_places=2)
    unit = models.CharField(max_length=8, choices=ProgesteroneUnit)
    analyser = models.CharField(max_length=80, default="", db_default="", blank=True)
    known_on = models.DateField(null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("dam", "season")]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_progesterone_list"),
            models.Index(fields=["kennel", "dam", "-occurred_at"], name="litters_progesterone_dam"),
        ]

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


class Mating(Fact):
    """One mating or insemination."""

    dam = parent("litters.Dog")
    sire = parent("litters.Dog", null=True, blank=True)
    season = parent("litters.Season", null=True, blank=True)
    kind = models.CharField(max_length=24, choices=MatingKind, default=MatingKind.NATURAL)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("dam", "sire", "season"),
            models.CheckConstraint(
                condition=Q(sire=None) | ~Q(sire=F("dam")),
                name="litters_mating_two_dogs",
                violation_error_message="Dam and sire are two different dogs.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_mating_list"),
            models.Index(fields=["kennel", "dam", "-occurred_at"], name="litters_mating_dam"),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Scan(Fact):
    """One structure measured at an ultrasound visit (a reading per fetus), or pups counted by scan or X-ray."""

    dam = parent("litters.Dog")
    season = parent("litters.Season", null=True, blank=True)
    method = models.CharField(max_length=12, choices=ScanMethod, default=ScanMethod.ULTRASOUND)
    structure = models.CharField(max_length=8, choices=ScanStructure, default="", db_default="", blank=True)
    readings = models.JSONField(default=list, db_default=models.Value([], models.JSONField()), blank=True)
    unit = models.CharField(max_length=2, choices=ScanUnit, default=ScanUnit.MM)
    pups_counted = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [*Fact.Meta.constraints, *same_kennel("dam", "season")]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="litters_scan_list"),
            models.Index(fields=["kennel", "dam", "-occurred_at"], name="litters_scan_dam"),
        ]

    def __str__(self) -> str:
        return self.get_method_display()
