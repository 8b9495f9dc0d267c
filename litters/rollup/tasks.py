"""Ticks of the roll-up: the minute's tick looks for days that ended or whose facts changed."""

from django.utils import timezone

from kennel.celery import app
from litters.rollup.services import computing

app.conf.beat_schedule["litter-days"] = {
    "task": "litters.rollup.tasks.roll_up",
    "schedule": 60.0,
    "options": {"expires": 60},
}


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def roll_up() -> None:
    """Mark days that ended, then compute what is marked."""
    at = timezone.now()
    computing.mark_finished_days(at)
    computing.compute_dirty(at)
