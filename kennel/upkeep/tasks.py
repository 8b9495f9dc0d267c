"""The nightly backup.  The tick only asks; `backups.nightly` decides by the age of the newest file."""

import structlog
from django.conf import settings
from django.utils import timezone

from kennel.celery import app
from kennel.upkeep import nightly_child

log = structlog.get_logger(__name__)

app.conf.beat_schedule["nightly-backup"] = {
    "task": "kennel.upkeep.tasks.backup",
    "schedule": 600.0,
    "options": {"expires": 600},
}


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def backup() -> None:
    """Start the owner's backup in a process of its own when one is due."""
    if settings.CAN_BACK_UP:
        nightly_child.run(timezone.now())
