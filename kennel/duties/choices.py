"""Closed lists of the duties app."""

from django.db.models import TextChoices


class Level(TextChoices):
    """How much a duty matters: who is woken for it, and how stubbornly a message is sent."""

    INFO = "info", "good to know"
    DUE = "due", "due"
    CRITICAL = "critical", "critical"


LEVEL_RANK = {Level.INFO: 0, Level.DUE: 1, Level.CRITICAL: 2}


class DutyState(TextChoices):
    """Where a duty stands.  Closed: none of its animals is outstanding any more."""

    OPEN = "open", "open"
    CLOSED = "closed", "closed"
    MISSED = "missed", "missed"
    CANCELLED = "cancelled", "cancelled"


class AnimalState(TextChoices):
    """What became of one animal of a duty."""

    OUTSTANDING = "outstanding", "outstanding"
    DONE = "done", "done"
    SKIPPED = "skipped", "skipped"
    DEFERRED = "deferred", "deferred"


class ActionKind(TextChoices):
    """What somebody did about a duty, besides recording the fact itself."""

    SEEN = "seen", "seen"
    TAKE = "take", "taken"
    RELEASE = "release", "given back"
    SKIP = "skip", "skipped"
    DEFER = "defer", "deferred"
    DONE = "done", "done"
    UNDO = "undo", "undone"


class ReminderState(TextChoices):
    """What became of one message to one carer on one channel."""

    PENDING = "pending", "pending"
    ACCEPTED = "accepted", "accepted"
    UNDELIVERED = "undelivered", "undelivered"
    MISSED = "missed", "missed"
    SUPPRESSED = "suppressed", "suppressed"
    CANCELLED = "cancelled", "cancelled"


class ReminderKind(TextChoices):
    """A message about one duty, or one message about several that waited."""

    DUTY = "duty", "one duty"
    DIGEST = "digest", "several duties"
