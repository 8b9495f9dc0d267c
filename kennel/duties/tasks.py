"""Ticks of the duties app: every 15 s; a tick that waited that long is worthless and expires."""

from django.utils import timezone

from kennel.celery import app
from kennel.duties.services import ticks

TICK_S = 15.0
CHANNELS = ("inbox", "email")


def _every_tick(task: str, *args: str) -> dict[str, object]:
    return {
        "task": f"kennel.duties.tasks.{task}",
        "schedule": TICK_S,
        "args": args,
        "options": {"expires": TICK_S},
    }


app.conf.beat_schedule |= {"duties-plan": _every_tick("plan"), "duties-release": _every_tick("release")} | {
    f"duties-send-{channel}": _every_tick("send", channel) for channel in CHANNELS
}


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def plan() -> None:
    """Make duties 72 hours ahead."""
    ticks.plan_tick(timezone.now())


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def release() -> None:
    """Turn duties that are due into messages, and let them be sent at once instead of with the next tick."""
    if ticks.release_tick(timezone.now()):
        for channel in CHANNELS:
            send.apply_async((channel,), expires=TICK_S)


@app.task  # type: ignore[untyped-decorator]  # Celery is not typed
def send(channel: str) -> None:
    """Send the messages of one channel."""
    ticks.send_tick(channel, timezone.now())
