"""The roll-up's machine rows."""

from django.db import models
from django.db.models import Value

from kennel.people.models import Kennel


class LitterDay(models.Model):
    """One litter on one kennel-local day (23, 24, 25 or another number of hours between `from_at` and `to_at`).

    gains: pup uid -> grams per 24 h by real elapsed time between the last weighings of two days.  extra: aggregates of
    other apps by name.  seq: the kennel's journal number it was computed from.
    """

    kennel = models.ForeignKey(
        Kennel, on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    litter_id = models.BigIntegerField()
    day = models.DateField()
    from_at = models.DateTimeField()
    to_at = models.DateTimeField()
    born = models.SmallIntegerField(default=0)
    live_born = models.SmallIntegerField(default=0)
    stillborn = models.SmallIntegerField(default=0)
    died = models.SmallIntegerField(default=0)
    left = models.SmallIntegerField(default=0)
    resident = models.SmallIntegerField(default=0)
    sucking = models.SmallIntegerField(default=0)
    hand_fed = models.SmallIntegerField(default=0)
    weighed = models.SmallIntegerField(default=0)
    not_weighed = models.SmallIntegerField(default=0)
    weight_mean_g = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    weight_min_g = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    weight_max_g = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    gains = models.JSONField(default=dict, db_default=Value({}, models.JSONField()))
    slowest_pup = models.UUIDField(null=True)
    slowest_gain_g_per_day = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    extra = models.JSONField(default=dict, db_default=Value({}, models.JSONField()))
    contributors = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    seq = models.BigIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["litter_id", "day"], name="rollup_litterday_once")]
        indexes = [models.Index(fields=["kennel", "day"], name="rollup_litterday_kennel")]

    def __str__(self) -> str:
        return f"litter {self.litter_id} on {self.day}"


class DirtyDay(models.Model):
    """A day whose facts changed since it was computed.  `failed_at` is set while it cannot be computed."""

    kennel = models.ForeignKey(
        Kennel, on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    litter_id = models.BigIntegerField()
    day = models.DateField()
    failed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["litter_id", "day"], name="rollup_dirtyday_once")]

    def __str__(self) -> str:
        return f"litter {self.litter_id} on {self.day}"
