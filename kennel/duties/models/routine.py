"""What recurs: a rule of time, the animals it is about, and how much it matters."""

from django.db import models
from django.db.models import F, Q, Value

from kennel.duties.choices import Level
from kennel.records.constraints import same_kennel
from kennel.records.models import Record, referable


class Routine(Record):
    """One recurring duty: elapsed time or wall times (`rule`), within dates or ages, for one subject.

    Empty level and times mean those of the duty kind.  `source_*` name the record and the part of it that
    this routine was made from (a feeding plan's soak, a worming plan), so that its maker finds it again.
    """

    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=120, default="", db_default="", blank=True)
    rule = models.JSONField()
    subject_type = models.CharField(max_length=40, default="", db_default="", blank=True)
    subject_uid = models.UUIDField(null=True, blank=True)
    settings = models.JSONField(default=dict, db_default=Value({}, models.JSONField()))
    level = models.CharField(max_length=8, choices=Level, default="", db_default="", blank=True)
    useful_for_s = models.PositiveIntegerField(null=True, blank=True)
    escalate_after_s = models.PositiveIntegerField(null=True, blank=True)
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    day_zero_on = models.DateField(null=True, blank=True)
    from_age_days = models.PositiveSmallIntegerField(null=True, blank=True)
    until_age_days = models.PositiveSmallIntegerField(null=True, blank=True)
    is_active = models.BooleanField(default=True, db_default=True)
    instructions = models.CharField(max_length=2000, default="", db_default="", blank=True)
    source_type = models.CharField(max_length=40, default="", db_default="", blank=True)
    source_uid = models.UUIDField(null=True, blank=True)
    source_key = models.CharField(max_length=80, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            models.CheckConstraint(condition=Q(level__in=["", *Level.values]), name="duties_routine_level"),
            models.CheckConstraint(
                condition=Q(starts_at=None) | Q(ends_at=None) | Q(ends_at__gt=F("starts_at")),
                name="duties_routine_bounds",
                violation_error_message="A routine ends after it starts.",
            ),
            models.UniqueConstraint(
                fields=["kennel", "source_type", "source_uid", "source_key"],
                condition=Q(source_uid__isnull=False, deleted_at=None),
                name="duties_routine_source_once",
                violation_error_message="This part of the plan has its routine already.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="duties_routine_list"),
            models.Index(fields=["kennel", "subject_type", "subject_uid"], name="duties_routine_subject"),
        ]

    def __str__(self) -> str:
        return self.title or self.kind


class PlanMark(models.Model):
    """How far a routine is planned ahead; a machine row.  `is_dirty` asks the next tick to plan it again."""

    kennel = models.ForeignKey(
        "people.Kennel", on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    routine = models.OneToOneField(
        Routine, on_delete=models.PROTECT, primary_key=True, related_name="+", db_constraint=False
    )
    planned_until = models.DateTimeField()
    last_done_at = models.DateTimeField(null=True)
    is_dirty = models.BooleanField(default=False, db_default=False)

    class Meta:
        constraints = [*same_kennel("routine")]
        indexes = [
            models.Index(fields=["planned_until"], name="duties_planmark_until"),
            models.Index(fields=["kennel"], condition=Q(is_dirty=True), name="duties_planmark_dirty"),
        ]

    def __str__(self) -> str:
        return f"planned until {self.planned_until}"
