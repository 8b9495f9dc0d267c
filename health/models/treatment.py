"""A dose that was given."""

from django.db import models
from django.db.models import Q

from health.choices import AmountUnit, TreatmentOutcome
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class Treatment(Fact):
    """One dose of one medicine for one animal, given at `occurred_at`.

    dose_mg: active, base or salt as the medicine states its dose.  amount in amount_unit: what was measured
    out.  weight_g, weighed_at: the weight the amount was worked out for.  outcome: a dose that was spat out
    or vomited stays on record as such; the vet decides about giving it again.
    """

    pup = parent("litters.Pup", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    medicine = parent("health.Medicine")
    plan = parent("health.TreatmentPlan", null=True, blank=True)
    dose_mg = models.DecimalField(max_digits=11, decimal_places=4, null=True, blank=True)
    amount = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    amount_unit = models.CharField(max_length=6, choices=AmountUnit, default="", db_default="", blank=True)
    weight_g = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    weighed_at = models.DateTimeField(null=True, blank=True)
    lot = models.CharField(max_length=80, default="", db_default="", blank=True)
    expires_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=10, choices=TreatmentOutcome, default=TreatmentOutcome.GIVEN)
    prescriber = models.CharField(max_length=200, default="", db_default="", blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("pup", "dog", "medicine", "plan"),
            models.CheckConstraint(
                condition=Q(pup=None, dog__isnull=False) | Q(pup__isnull=False, dog=None),
                name="health_treatment_one_animal",
                violation_error_message="A treatment belongs to one pup or to one dog.",
            ),
            models.CheckConstraint(
                condition=(Q(dose_mg=None) | Q(dose_mg__gt=0)) & (Q(amount=None) | Q(amount__gt=0)),
                name="health_treatment_positive",
                violation_error_message="A dose lies above 0.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="health_treatment_list"),
            models.Index(
                fields=["kennel", "pup", "-occurred_at", "-id"],
                name="health_treatment_pup",
                condition=Q(pup__isnull=False),
            ),
            models.Index(
                fields=["kennel", "dog", "-occurred_at", "-id"],
                name="health_treatment_dog",
                condition=Q(dog__isnull=False),
            ),
            models.Index(fields=["kennel", "medicine"], name="health_treatment_medicine"),
        ]

    def __str__(self) -> str:
        return f"{self.amount or self.dose_mg or ''} {self.amount_unit}".strip()
