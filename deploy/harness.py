"""A whole running server for end-to-end tests and benchmarks, with the means to be cruel to it.

with RunningStack(folder / "state") as stack:
    requests.get(stack.url + "/livez", headers={"Host": stack.host})
    stack.kill("worker")
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

import psutil

from deploy.environment import REPOSITORY
from deploy.readiness import answer_status
from deploy.state import read_json


def _hear_ctrl_c() -> None:
    """A shell that runs the tests in the background lets its children ignore Ctrl-C; ours is to hear it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class DidNotStart(Exception):
    """The supervisor ended before the server answered; the text is what it printed."""


class RunningStack:
    """`./deploy/start` as a child process, on a free port unless one is named.

    variables: added to the environment; addresses of servers given to the tests are left out, so that
    the stack brings its own, unless they are named here.
    """

    module = "deploy.supervisor"

    def __init__(
        self, state: Path, arguments: Sequence[str] = (), variables: Mapping[str, str] | None = None
    ) -> None:
        self.state = state
        self.arguments = list(arguments)
        self.variables = dict(variables or {})
        self.log = state.parent / f"{state.name}.supervisor.log"
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self, seconds: float = 120.0) -> float:
        """Start and wait until it answers; returns the seconds that took.  Raises DidNotStart."""
        began = time.monotonic()
        port = [] if "--port" in self.arguments else ["--port", "0"]
        command = [sys.executable, "-P", "-m", self.module, "--state", str(self.state), *port]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*command, *self.arguments],
                env=self._environment(),
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                preexec_fn=_hear_ctrl_c,
            )
        while self._described_by() != self.process.pid:
            if self.process.poll() is not None or time.monotonic() - began > seconds:
                self.stop()
                raise DidNotStart(self.log.read_text())
            time.sleep(0.05)
        return time.monotonic() - began

    def _environment(self) -> dict[str, str]:
        strange = ("DATABASE_URL", "REDIS_URL", "SECRET_KEY", "KENNEL_SUPERVISED_STATE", "KENNEL_STARTED")
        dropped = ("TEST", "DB_ROLE", "ORIGIN", "STATE_DIR", "EMAIL_URL", "WEB_HOST", "MONITOR_URL")
        inherited = {
            name: value
            for name, value in os.environ.items()
            if name not in dropped and not any(word in name for word in strange)
        }
        return {**inherited, "PYTHONPATH": str(REPOSITORY), **self.variables}

    def _described_by(self) -> int | None:
        described = read_json(self.state / "running.json")
        return described["supervisor"] if described else None

    @property
    def running(self) -> dict[str, Any]:
        """What the supervisor says of itself: origin, pids, restarts, demo, mail_folder, ..."""
        described: dict[str, Any] = read_json(self.state / "running.json")
        assert described is not None, "no server runs here"
        return described

    @property
    def url(self) -> str:
        """Address of the web server on this machine, without a slash at the end."""
        return str(self.running["local_url"])

    @property
    def host(self) -> str:
        """What to send as Host."""
        return urlsplit(str(self.running["origin"])).netloc

    def pid(self, name: str) -> int:
        """Process number of web, worker, beat, mail, postgres or valkey."""
        return int(self.running["pids"][name])

    def kill(self, name: str) -> int:
        """SIGKILL one part, its main process only; returns the number it had."""
        number = self.pid(name)
        os.kill(number, signal.SIGKILL)
        return number

    def kill_supervisor(self) -> None:
        """SIGKILL the supervisor alone."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def kill_everything(self) -> int:
        """SIGKILL the supervisor and all that descends from it; returns how many those were."""
        assert self.process is not None
        self.process.send_signal(signal.SIGSTOP)  # or it would begin to start parts again
        everybody = psutil.Process(self.process.pid).children(recursive=True)
        for process in everybody:
            process.kill()
        self.kill_supervisor()
        psutil.wait_procs(everybody, timeout=10)
        return len(everybody) + 1

    def wait_for_another(self, name: str, number: int, seconds: float = 30.0) -> int:
        """Wait until a part runs again under another process number; returns it.  Raises TimeoutError."""
        deadline = time.monotonic() + seconds
        while (now := self.pid(name)) == number:
            if time.monotonic() > deadline:
                raise TimeoutError(f"{name} was not started again within {seconds} s")
            time.sleep(0.05)
        return now

    def wait_ready(self, seconds: float = 30.0) -> float:
        """Wait until /readyz answers 200; returns the seconds that took.  Raises TimeoutError."""
        began = time.monotonic()
        authority = self.running["authority"]
        while answer_status(f"{self.url}/readyz", self.host, Path(authority) if authority else None) != 200:
            if time.monotonic() - began > seconds:
                raise TimeoutError(f"/readyz did not become 200 within {seconds} s")
            time.sleep(0.05)
        return time.monotonic() - began

    def stop(self, wish: signal.Signals = signal.SIGTERM, seconds: float = 25.0) -> int | None:
        """Ask it to stop; returns its exit code, or None when it never ran.  A slow one is ended."""
        if self.process is None:
            return None
        if self.process.poll() is None:
            self.process.send_signal(wish)
            try:
                self.process.wait(seconds)
            except subprocess.TimeoutExpired:
                self.kill_everything()
        return self.process.returncode
