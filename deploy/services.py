"""The processes of the server: how each is started, and the watch that starts it again."""

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from deploy.certificates import Certificates
from deploy.children import Child
from deploy.environment import REPOSITORY, for_role
from deploy.ports import LOOPBACK
from deploy.postgres import PostgresFailed
from deploy.state import State
from deploy.valkey import ValkeyFailed

PYTHON = [sys.executable, "-P", "-m"]
COULD_NOT_START = (OSError, subprocess.SubprocessError, PostgresFailed, ValkeyFailed)
FIRST_DELAY_S, LONGEST_DELAY_S, STEADY_S = 0.3, 30.0, 60.0


class Service(Protocol):
    """What the supervisor needs of a process; PostgreSQL, Valkey and every Child have it."""

    @property
    def pid(self) -> int | None:
        """Process number."""

    def start(self) -> None:
        """Start it, without waiting."""

    def running(self) -> bool:
        """Whether it runs."""

    def stop(self, seconds: float) -> bool:
        """Stop it within about that time; whether it left by itself."""


@dataclass
class Watched:
    """A service and when to start it again: at once the first time, then ever later while it keeps ending."""

    name: str
    service: Service
    stop_s: float
    started: float = 0.0
    delay_s: float = FIRST_DELAY_S
    again_at: float | None = None
    restarts: int = 0

    def start(self, now: float) -> None:
        """Start it.  now: a monotonic clock in seconds."""
        self.service.start()
        self.started, self.again_at = now, None

    def look(self, now: float) -> str | None:
        """Start it again when it ended and its delay is over; returns a line to tell people, if any."""
        if self.again_at is None:
            if self.service.running():
                return None
            if now - self.started > STEADY_S:
                self.delay_s = FIRST_DELAY_S
            self.again_at = now + self.delay_s
            self.delay_s = min(self.delay_s * 2, LONGEST_DELAY_S)
            return f"{self.name} ended; starting it again"
        if now < self.again_at:
            return None
        try:
            self.start(now)
        except COULD_NOT_START as problem:  # a full disk, no memory: it may pass
            self.again_at = now + self.delay_s
            self.delay_s = min(self.delay_s * 2, LONGEST_DELAY_S)
            return f"{self.name} could not be started: {str(problem).splitlines()[0]}"
        self.restarts += 1
        return None


@dataclass(frozen=True)
class Processes:
    """Makes the children of one stack."""

    state: State
    variables: Mapping[str, str]

    def child(self, name: str, command: list[str], role: str, **more: str) -> Child:
        """A Python child of ours in the given role."""
        environment = {**for_role(self.variables, role), **more}
        return Child(name, command, environment, self.state.logs / f"{name}.log", folder=REPOSITORY)

    def web(self, host: str, port: int, certificates: Certificates | None) -> Child:
        """The web server."""
        workers, threads = os.environ.get("WEB_WORKERS", "2"), os.environ.get("WEB_THREADS", "32")
        command = [*PYTHON, "granian", "--interface", "wsgi", "--host", host, "--port", str(port)]
        command += ["--workers", workers, "--blocking-threads", threads, "--backlog", "1024", "--no-ws"]
        # A worker that died comes back by itself; one that does not finish its requests is ended in time for
        # the database to stop in good order.
        command += ["--respawn-failed-workers", "--respawn-interval", "0.3", "--workers-kill-timeout", "4"]
        if certificates:
            command += ["--ssl-certificate", str(certificates.leaf), "--ssl-keyfile", str(certificates.key)]
            command += ["--ssl-protocol-min", "tls1.2"]
        return self.child("web", [*command, "kennel.wsgi:application"], "app", WEB_THREADS=threads)

    def worker(self) -> Child:
        """The background worker."""
        processes = os.environ.get("WORKER_PROCESSES", "2")
        command = [
            *PYTHON,
            "celery",
            "-A",
            "kennel",
            "worker",
            "--concurrency",
            processes,
            "--loglevel",
            "INFO",
        ]
        return self.child("worker", [*command, "--without-gossip", "--without-mingle"], "jobs")

    def beat(self) -> Child:
        """The clock that ticks the worker."""
        schedule = self.state.folder / "beat-schedule"
        command = [*PYTHON, "celery", "-A", "kennel", "beat", "--loglevel", "INFO", "--pidfile="]
        return self.child("beat", [*command, "--schedule", str(schedule)], "app")

    def mail(self, port: int) -> Child:
        """The mail folder of a trial."""
        command = [*PYTHON, "deploy.mail_sink", "--port", str(port), "--folder", str(self.state.mail)]
        return self._plain("mail", command)

    def certificate_page(self, certificates: Certificates, port: int, name: str, origin: str) -> Child:
        """The page that hands out the local authority's certificate."""
        command = [*PYTHON, "deploy.certificate_page", "--certificate", str(certificates.authority)]
        return self._plain("certificate", [*command, "--port", str(port), "--name", name, "--origin", origin])

    def monitor(self, url: str, health: str, host: str, authority: Path | None) -> Child:
        """The ping to an outside monitor."""
        command = [*PYTHON, "deploy.monitor_ping", "--health", health, "--host", host]
        command += ["--authority", str(authority)] if authority else []
        return self._plain("monitor", command, MONITOR_URL=url)

    def prepare(self, result: Path, demo: bool) -> Child:
        """Migration and demo; ends by itself."""
        command = [*PYTHON, "deploy.prepare", "--result", str(result), *(["--demo"] if demo else [])]
        return self.child("prepare", command, "owner")

    def _plain(self, name: str, command: list[str], **more: str) -> Child:
        """A child that needs no address of any server."""
        kept = {"PATH", "LANG", "LC_ALL", "PYTHONPATH", "PYTHONUNBUFFERED", "KENNEL_SUPERVISED_STATE"}
        environment = {key: value for key, value in self.variables.items() if key in kept} | more
        log = self.state.logs / f"{name}.log"
        return Child(name, command, environment, log, folder=REPOSITORY, stop_signal=signal.SIGTERM)


def local_url(scheme: str, port: int, path: str) -> str:
    """Address of a page of our web server on this machine."""
    return f"{scheme}://{LOOPBACK}:{port}{path}"
