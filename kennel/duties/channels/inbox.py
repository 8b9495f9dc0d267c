"""The inbox: always there, reached through the API and the pages.  Delivering is being in the list."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

from kennel.duties.channels.registry import Channel, Deliver, Outcome, Outgoing, Result, register


@contextmanager
def session() -> Iterator[Deliver]:
    """Nothing to open."""

    def deliver(message: Outgoing) -> Result:
        return Result(Outcome.ACCEPTED)

    yield deliver


register(Channel("inbox", "Inbox", session, disturbs=False, longest=timedelta(seconds=1), batch=500))
