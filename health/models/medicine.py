"""A medicine as its own label describes it."""

from django.db import models
from django.db.models import Q, Value

from health.choices import LabelSays, MedicineForm, Purpose, StatedAs, Supply
from kennel.records.models import Record, referable


class Medicine(Record):
    """A product as labelled; every dose hangs on it, never on the active ingredient alone.

    strength_*: as printed.  dose_*: one rate for all weights; `bands` instead: a weight table, a list of
    {from_kg, to_kg or null, value, unit}, the unit a rate such as mg/lb or an amount (mg, mL, g, tablet).
    base_per_salt: mass of base in one mass of salt.  least_dose: the label says "at least".
    minimum_weight_g: in whole grams, as scales show them (2 lb = 907).  course_days: one dose on each of so
    many days running, dose_interval_h apart.  repeat_after_days: least days from one course to the next.
    """

    name = models.CharField(max_length=80)
    purpose = models.CharField(max_length=12, choices=Purpose, default=Purpose.WORMING)
    active = models.CharField(max_length=80)
    form = models.CharField(max_length=10, choices=MedicineForm)
    strength_value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    strength_unit = models.CharField(max_length=12, default="", db_default="", blank=True)
    strength_stated = models.CharField(max_length=6, choices=StatedAs, default=StatedAs.AS_IS)
    dose_value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    dose_unit = models.CharField(max_length=12, default="", db_default="", blank=True)
    dose_stated = models.CharField(max_length=6, choices=StatedAs, default=StatedAs.AS_IS)
    bands = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    base_per_salt = models.DecimalField(max_digits=7, decimal_places=6, null=True, blank=True)
    least_dose = models.BooleanField(default=False, db_default=False)
    other_actives = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    minimum_age_days = models.PositiveSmallIntegerField(null=True, blank=True)
    minimum_weight_g = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    course_days = models.PositiveSmallIntegerField(default=1)
    dose_interval_h = models.DecimalField(max_digits=6, decimal_places=2, default=24)
    repeat_after_days = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    tablet_parts = models.PositiveSmallIntegerField(default=1)
    supply = models.CharField(max_length=12, choices=Supply, default=Supply.OPEN_SALE)
    prescriber = models.CharField(max_length=200, default="", db_default="", blank=True)
    pregnancy = models.CharField(max_length=16, choices=LabelSays, default=LabelSays.NOT_STATED)
    nursing = models.CharField(max_length=16, choices=LabelSays, default=LabelSays.NOT_STATED)
    label_note = models.CharField(max_length=2000, default="", db_default="", blank=True)
    source = models.CharField(max_length=200, default="", db_default="", blank=True)
    in_use = models.BooleanField(default=True, db_default=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            models.CheckConstraint(
                condition=(Q(strength_value=None) | Q(strength_value__gt=0))
                & (Q(dose_value=None) | Q(dose_value__gt=0)),
                name="health_medicine_positive",
                violation_error_message="Strength and dose lie above 0.",
            ),
        ]
        indexes = [models.Index(fields=["kennel", "-recorded_at", "-id"], name="health_medicine_list")]

    def __str__(self) -> str:
        return self.name
