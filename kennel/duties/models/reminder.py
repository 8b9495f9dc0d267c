"""Messages to carers, what carers chose to be told, and the ticks that send them.  All machine rows."""

from django.conf import settings
from django.db import models
from django.db.models import Q, Value

from kennel.duties.choices import Level, ReminderKind, ReminderState
from kennel.records.constraints import same_kennel
from kennel.records.ids import new_uid
from kennel.records.models import parent, referable


class Reminder(models.Model):
    """One message to one carer on one channel.

    `next_attempt_at` is schedule, lease and backoff at once; `claim_token` says whose attempt is running.
    `held_in` is the digest that tells about it instead.  `seen_at` is the carer's own receipt.
    """

    kennel = models.ForeignKey(
        "people.Kennel", on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    uid = models.UUIDField(default=new_uid)
    kind = models.CharField(max_length=8, choices=ReminderKind, default=ReminderKind.DUTY)
    duty = parent("duties.Duty", null=True)
    carer = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        related_name="+",
    )
    channel = models.CharField(max_length=12)
    step = models.PositiveSmallIntegerField(default=0)
    level = models.CharField(max_length=8, choices=Level)
    through_quiet = models.BooleanField(default=False)
    state = models.CharField(max_length=12, choices=ReminderState, default=ReminderState.PENDING)
    released_at = models.DateTimeField()
    scheduled_at = models.DateTimeField()
    next_attempt_at = models.DateTimeField(null=True)
    claim_token = models.UUIDField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    useful_until = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)
    held_in = parent("self", null=True)
    problem = models.CharField(max_length=200, default="", blank=True)
    subject = models.CharField(max_length=300, default="", blank=True)
    body = models.TextField(default="", blank=True)
    items = models.JSONField(default=list, db_default=Value([], models.JSONField()))

    class Meta:
        constraints = [
            referable(),
            *same_kennel("duty", "held_in"),
            models.UniqueConstraint(fields=["kennel", "uid"], name="duties_reminder_uid"),
            models.UniqueConstraint(
                fields=["kennel", "duty", "carer", "channel", "step"],
                condition=Q(duty__isnull=False),
                name="duties_reminder_once",
            ),
            models.UniqueConstraint(
                fields=["kennel", "carer", "channel"],
                condition=Q(kind=ReminderKind.DIGEST, state=ReminderState.PENDING),
                name="duties_reminder_one_digest",
            ),
            models.CheckConstraint(
                condition=Q(kind=ReminderKind.DUTY, duty__isnull=False)
                | Q(kind=ReminderKind.DIGEST, duty=None),
                name="duties_reminder_kind",
            ),
            models.CheckConstraint(condition=Q(state__in=ReminderState.values), name="duties_reminder_state"),
            models.CheckConstraint(condition=Q(level__in=Level.values), name="duties_reminder_level"),
        ]
        indexes = [
            models.Index(
                fields=["channel", "next_attempt_at", "id"],
                condition=Q(state=ReminderState.PENDING, next_attempt_at__isnull=False),
                name="duties_reminder_due",
            ),
            models.Index(fields=["kennel", "carer", "-released_at", "-id"], name="duties_reminder_inbox"),
            models.Index(fields=["kennel", "-released_at", "-id"], name="duties_reminder_list"),
            models.Index(fields=["duty"], name="duties_reminder_duty"),
            models.Index(fields=["held_in"], condition=Q(held_in__isnull=False), name="duties_reminder_held"),
        ]

    def __str__(self) -> str:
        return f"{self.channel}: {self.state}"


class ReminderChoice(models.Model):
    """What a carer chose to be told in one kennel on one channel; no row means everything."""

    kennel = models.ForeignKey(
        "people.Kennel", on_delete=models.PROTECT, related_name="+", db_constraint=False, db_index=False
    )
    carer = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        db_constraint=False,
        db_index=False,
        related_name="+",
    )
    channel = models.CharField(max_length=12)
    is_on = models.BooleanField(default=True, db_default=True)
    digests_on = models.BooleanField(default=True, db_default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kennel", "carer", "channel"], name="duties_reminderchoice_once"),
        ]

    def __str__(self) -> str:
        return f"{self.channel}: {'on' if self.is_on else 'off'}"


class Tick(models.Model):
    """When each tick last ran, and the lease of one that must not run twice at once.

    Belongs to no kennel.
    """

    name = models.CharField(max_length=40, primary_key=True)
    ran_at = models.DateTimeField(null=True)
    failures = models.PositiveIntegerField(default=0, db_default=0)
    lease_until = models.DateTimeField(null=True)
    lease_token = models.UUIDField(null=True)

    def __str__(self) -> str:
        return f"{self.name} at {self.ran_at}"
