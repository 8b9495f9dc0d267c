"""What people did about a duty, besides recording the fact itself."""

from django.conf import settings
from django.db import models
from django.db.models import Q, Value

from kennel.duties.choices import ActionKind
from kennel.records.constraints import same_kennel
from kennel.records.models import Fact, parent


class DutyAction(Fact):
    """A tap: seen, taken, given back, skipped, deferred, done, undone.  Sent twice it counts once.

    `held_by` and `held_since` say who was on it already when somebody else took it.
    """

    duty = parent("duties.Duty")
    action = models.CharField(max_length=8, choices=ActionKind)
    animals = models.JSONField(default=list, db_default=Value([], models.JSONField()))
    until = models.DateTimeField(null=True, blank=True)
    undoes = models.UUIDField(null=True, blank=True)
    take_over = models.BooleanField(default=False, db_default=False)
    held_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        null=True,
        blank=True,
        related_name="+",
    )
    held_since = models.DateTimeField(null=True, blank=True)

    class Meta(Fact.Meta):
        constraints = [
            *Fact.Meta.constraints,
            *same_kennel("duty"),
            models.CheckConstraint(
                condition=Q(action__in=ActionKind.values), name="duties_dutyaction_action"
            ),
            models.CheckConstraint(
                condition=~Q(action=ActionKind.DEFER) | Q(until__isnull=False),
                name="duties_dutyaction_until",
                violation_error_message="Say until when it is put off.",
            ),
            models.CheckConstraint(
                condition=Q(action=ActionKind.UNDO, undoes__isnull=False)
                | (~Q(action=ActionKind.UNDO) & Q(undoes=None)),
                name="duties_dutyaction_undoes",
                violation_error_message="An undo names the action it undoes.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-occurred_at", "-id"], name="duties_dutyaction_list"),
            models.Index(fields=["duty", "id"], name="duties_dutyaction_duty"),
        ]

    def __str__(self) -> str:
        return self.get_action_display()
