"""Ticks of the people app."""

from django.utils import timezone

from kennel.celery import app
from kennel.people.services.letters import letters_send

app.conf.beat_schedule["invitation-letters"] = {
    "task": "kennel.people.tasks.send_letters",
    "schedule": 15.0,
    "options": {"expires": 15},
}


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def send_letters() -> None:
    """Send the invitations that wait for the post."""
    letters_send(timezone.now())
