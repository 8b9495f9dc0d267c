"""Who is on duty when."""

from django.db import models
from django.db.models import F, Q, Value

from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent


class Shift(Record):
    """A member is on duty from one wall time to another (over midnight when it ends earlier than it begins).

    It begins on each day from `first_on` to `last_on` (open ended without) that is one of `weekdays` (0
    Monday to 6 Sunday, none = every day).  Equal times mean the whole day.  Of several on duty at once, rank
    1 is told first, rank 2 when nobody of rank 1 has acted, and so on.
    """

    member = parent("people.Membership")
    first_on = models.DateField()
    last_on = models.DateField(null=True, blank=True)
    from_time = models.TimeField()
    until_time = models.TimeField()
    weekdays = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    rank = models.PositiveSmallIntegerField(default=1, db_default=1)
    note = models.CharField(max_length=200, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            *same_kennel("member"),
            models.CheckConstraint(
                condition=Q(last_on=None) | Q(last_on__gte=F("first_on")),
                name="duties_shift_days",
                violation_error_message="The last day is not before the first.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="duties_shift_list"),
            models.Index(
                fields=["kennel", "last_on"], condition=Q(deleted_at=None), name="duties_shift_last"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.from_time:%H:%M} to {self.until_time:%H:%M}"
