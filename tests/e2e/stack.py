"""The running server of these tests: with a moved clock, a mail server that takes its mail, and ways to be cruel."""

import os
import signal
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import psutil
import psycopg
import redis
from celery import Celery

from deploy.environment import DATABASE_VARIABLES
from deploy.harness import RunningStack
from deploy.state import read_json
from tests.cleaning import Cleaner
from tests.e2e.clock import MovedClock
from tests.kennel.duties.mail import Sink

TICKS = (
    ("kennel.duties.tasks.plan", ()),
    ("kennel.duties.tasks.release", ()),
    ("kennel.duties.tasks.send", ("inbox",)),
    ("kennel.duties.tasks.send", ("email",)),
)
MOST_S = 90.0


class MainStack(RunningStack):
    """`deploy/start --no-demo` on a clock of its own, mailing to `sink`, with its own Valkey.

    Its database is the one of the tests, which is migrated already: that takes longer than the story.
    """

    module = "tests.e2e.supervisor"

    def __init__(self, folder: Path, sink: Sink) -> None:
        self.sink = sink
        self.clock = MovedClock(folder / "clock")
        super().__init__(
            folder / "state",
            ["--no-demo"],
            {
                "KENNEL_TEST_CLOCK": str(self.clock.file),
                "EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",
                "QUOTA_PER_MINUTE": "1000000",
                "WEB_WORKERS": "1",
                **{name: os.environ[name] for name in DATABASE_VARIABLES},
            },
        )

    # --- as if it were new ---------------------------------------------------------------------------------

    def begin(self, at: datetime) -> None:
        """An empty server at this instant."""
        self.clock.set(at)
        self.until("an empty server", lambda: self._is_emptied(at))
        self.sink.taken.clear()

    def _is_emptied(self, at: datetime) -> bool:
        """Empty it; False when a tick that had begun before the clock went back wrote its hour once more."""
        self.valkey.flushall()
        self.empty()
        time.sleep(0.5)
        with psycopg.connect(os.environ["OWNER_DATABASE_URL"]) as owner:
            late = "SELECT count(*) FROM duties_tick WHERE GREATEST(ran_at, lease_until) > %s"
            return owner.execute(late, [at + timedelta(hours=1)]).fetchone() == (0,)

    def empty(self) -> None:
        """Take every row away, as the fixture `db` does after a test."""
        with psycopg.connect(os.environ["OWNER_DATABASE_URL"], autocommit=True) as owner:
            Cleaner(owner).clean()

    @property
    def _valkey_url(self) -> str:
        found = read_json(self.state / "secrets" / "environment.json")
        assert found is not None
        return str(found["REDIS_URL"])

    @property
    def valkey(self) -> redis.Redis:
        """The stack's own Valkey."""
        return redis.Redis.from_url(self._valkey_url)

    # --- time ----------------------------------------------------------------------------------------------

    def move_to(self, at: datetime) -> None:
        """Set the clock of all processes and let them look at it."""
        self.clock.set(at)
        self.tick()

    def tick(self, *more: str) -> None:
        """Play a second beat, so that nobody waits 15 s for the first one's tick: a doubled tick changes nothing."""
        with Celery("second-beat", broker=self._valkey_url) as beat:
            for name, args in (*TICKS, *((task, ()) for task in more)):
                beat.send_task(name, args, expires=60)

    def until(self, what: str, is_so: Callable[[], object], most_s: float = MOST_S) -> None:
        """Wait until something is so.  Raises TimeoutError that names it."""
        deadline = time.monotonic() + most_s
        while not is_so():
            if time.monotonic() > deadline:
                raise TimeoutError(f"{what}: not so after {most_s:.0f} s")
            time.sleep(0.05)

    # --- cruelty -------------------------------------------------------------------------------------------

    def kill_workers_and_empty_valkey(self) -> None:
        """SIGKILL the background worker with all its processes, then FLUSHALL; the supervisor starts it again."""
        number = self.pid("worker")
        worker = psutil.Process(number)
        everybody = [worker, *worker.children(recursive=True)]
        for process in everybody:
            os.kill(process.pid, signal.SIGKILL)
        self.valkey.flushall()
        psutil.wait_procs(everybody, timeout=10)
        self.wait_for_another("worker", number)
