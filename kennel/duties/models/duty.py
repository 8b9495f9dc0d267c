"""One thing due at one instant, and what became of each of its animals."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q, Value

from kennel.duties.choices import AnimalState, DutyState, Level
from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable


class Duty(Record):
    """What is asked for at `due_at`; unique per routine and nominal time (`occurrence`).

    `asks` stores what it asked for and what that stands on (planned kcal, grams, dose, weights); `subjects`
    the animals it named.  It is open until none of them is outstanding, however many people have seen or
    taken it. `taken_*` is who is on it; that lapses at `taken_until`.  A duty without routine was made by
    hand, or for animals put off from another duty (`follows`).
    """

    routine = parent("duties.Routine", null=True, blank=True)
    occurrence = models.CharField(max_length=80, default="", db_default="", blank=True)
    follows = parent("duties.Duty", null=True, blank=True)
    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=120)
    due_at = models.DateTimeField()
    level = models.CharField(max_length=8, choices=Level, default=Level.DUE)
    useful_until = models.DateTimeField()
    escalate_after_s = models.PositiveIntegerField(null=True, blank=True)
    text = models.CharField(max_length=2000, default="", db_default="", blank=True)
    asks = models.JSONField(default=dict, db_default=Value({}, models.JSONField()))
    cautions = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    subjects = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    state = models.CharField(
        max_length=10, choices=DutyState, default=DutyState.OPEN, db_default=DutyState.OPEN
    )
    outstanding = models.PositiveSmallIntegerField(default=0, db_default=0)
    closed_at = models.DateTimeField(null=True, blank=True)
    animals_changed_at = models.DateTimeField(null=True, blank=True)
    released_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        blank=True,
        related_name="+",
    )
    taken_device = models.ForeignKey(
        "people.Device",
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        blank=True,
        related_name="+",
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_until = models.DateTimeField(null=True, blank=True)

    class Meta(Record.Meta):
        verbose_name_plural = "duties"
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("routine", "follows"),
            models.UniqueConstraint(
                fields=["kennel", "routine", "occurrence"],
                condition=Q(routine__isnull=False),
                name="duties_duty_occurrence_once",
                violation_error_message="This duty is planned already.",
            ),
            models.CheckConstraint(
                condition=Q(useful_until__gt=F("due_at")),
                name="duties_duty_useful",
                violation_error_message="A duty is useful for some time after it is due.",
            ),
            models.CheckConstraint(condition=Q(level__in=Level.values), name="duties_duty_level"),
            models.CheckConstraint(condition=Q(state__in=DutyState.values), name="duties_duty_state"),
            models.CheckConstraint(
                condition=~Q(state=DutyState.CLOSED) | Q(outstanding=0),
                name="duties_duty_closed_means_none_left",
            ),
            models.CheckConstraint(
                condition=Q(taken_at=None, taken_until=None)
                | Q(taken_at__isnull=False, taken_until__isnull=False),
                name="duties_duty_taken_whole",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-due_at", "-id"], name="duties_duty_list"),
            models.Index(fields=["routine", "due_at"], name="duties_duty_routine"),
            models.Index(fields=["kennel", "due_at"], condition=Q(state="open"), name="duties_duty_open"),
            models.Index(
                fields=["due_at"],
                condition=Q(state="open", released_at=None, deleted_at=None),
                name="duties_duty_release",
            ),
            models.Index(
                fields=["useful_until"], condition=Q(state="open", deleted_at=None), name="duties_duty_expire"
            ),
        ]

    def __str__(self) -> str:
        return self.title


class DutyAnimal(models.Model):
    """One animal of a duty: outstanding, done, skipped with a reason, or deferred to its own date.

    A machine row: it follows from facts and duty actions, which are journalled; `settled_*` names the one.
    `subject_type` "kennel" stands for a duty about no animal in particular.
    """

    kennel = models.ForeignKey(
        "people.Kennel", on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    duty = parent(Duty)
    place = models.PositiveSmallIntegerField(default=0)
    subject_type = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    name = models.CharField(max_length=120)
    asks = models.JSONField(default=dict)
    state = models.CharField(max_length=12, choices=AnimalState, default=AnimalState.OUTSTANDING)
    reason = models.CharField(max_length=500, default="", blank=True)
    deferred_until = models.DateTimeField(null=True)
    settled_at = models.DateTimeField(null=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        related_name="+",
    )
    settled_type = models.CharField(max_length=40, default="", blank=True)
    settled_uid = models.UUIDField(null=True)

    class Meta:
        constraints = [
            *same_kennel("duty"),
            models.UniqueConstraint(
                fields=["duty", "subject_type", "subject_uid"], name="duties_dutyanimal_once"
            ),
            models.CheckConstraint(condition=Q(state__in=AnimalState.values), name="duties_dutyanimal_state"),
            models.CheckConstraint(
                condition=Q(state=AnimalState.OUTSTANDING, settled_at=None)
                | (~Q(state=AnimalState.OUTSTANDING) & Q(settled_at__isnull=False)),
                name="duties_dutyanimal_settled",
            ),
        ]
        indexes = [
            models.Index(
                fields=["kennel", "subject_type", "subject_uid"],
                condition=Q(state="outstanding"),
                name="duties_dutyanimal_waiting",
            ),
            models.Index(
                fields=["kennel", "settled_uid"],
                condition=Q(settled_uid__isnull=False),
                name="duties_dutyanimal_settled_by",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.state}"
