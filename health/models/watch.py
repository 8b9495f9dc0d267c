"""An animal to keep an eye on."""

from django.db import models
from django.db.models import Q, Value

from health.choices import ClosedBy, WatchLevel
from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent


class Watch(Record):
    """A pup or a dog to keep an eye on, from `opened_at` until `closed_at`.

    level: the highest since it was opened.  rules: keys of the watch rules that speak for it; empty for a
    watch somebody opened.  reasons: in words.  quiet_since: since when no rule speaks any more; one good
    reading does not end a watch.
    """

    pup = parent("litters.Pup", null=True, blank=True)
    dog = parent("litters.Dog", null=True, blank=True)
    level = models.CharField(max_length=10, choices=WatchLevel)
    rules = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    reasons = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    opened_at = models.DateTimeField()
    quiet_since = models.DateTimeField(null=True, blank=True, editable=False)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.CharField(max_length=6, choices=ClosedBy, default="", db_default="", blank=True)
    closing_reason = models.CharField(max_length=500, default="", db_default="", blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            *same_kennel("pup", "dog"),
            models.CheckConstraint(
                condition=Q(pup=None, dog__isnull=False) | Q(pup__isnull=False, dog=None),
                name="health_watch_one_animal",
                violation_error_message="A watch belongs to one pup or to one dog.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by="")
                | (Q(closed_at__isnull=False) & ~Q(closed_by="") & ~Q(closing_reason="")),
                name="health_watch_closed_with_reason",
                violation_error_message="A watch is closed by somebody and with a reason.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-opened_at", "-id"], name="health_watch_order"),
            models.Index(fields=["kennel", "pup"], name="health_watch_pup"),
            models.Index(
                fields=["kennel", "opened_at"],
                name="health_watch_open",
                condition=Q(closed_at=None, deleted_at=None),
            ),
        ]

    def __str__(self) -> str:
        return str(self.get_level_display())
