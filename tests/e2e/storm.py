"""Calm, or a storm: workers killed and Valkey emptied in the middle of the work."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from tests.e2e.scene import Scene

# A sender's claim lasts 60 s; then another may take up what it left.
CLAIM = timedelta(seconds=61)


@dataclass
class Weather:
    """What happens beside the story.  deaths: how often the worker was killed."""

    is_stormy: bool
    deaths: int = 0

    def worker_dies(self, scene: Scene) -> None:
        """SIGKILL the workers, FLUSHALL; the supervisor starts them again while the story goes on."""
        if self.is_stormy:
            scene.stack.kill_workers_and_empty_valkey()
            self.deaths += 1

    @contextmanager
    def in_the_middle_of_sending(self, scene: Scene, due_at: datetime) -> Iterator[None]:
        """The workers die while the first letter of several has been taken and its sender waits for the answer.

        Only the real beat goes on from there: after 61 s the claim has lapsed, and another sender finishes.
        """
        stack = scene.stack
        if not self.is_stormy:
            yield
            return
        stack.sink.is_hanging.clear()
        stack.sink.hang_after = len(stack.sink.taken) + 1
        yield
        stack.sink.wait_until_hanging()
        self.worker_dies(scene)
        stack.sink.hang_after = None
        stack.clock.set(due_at + CLAIM)
