"""Starts the whole server, keeps it running, and stops it in good order.

    python -m deploy.supervisor --help

Order of starting: state folder held, leftovers of a killed supervisor ended, PostgreSQL and Valkey,
migration and demo, web, worker, beat.  Order of stopping: beat, worker, web, Valkey, PostgreSQL, within 20
seconds. Everything that must survive a crash is in PostgreSQL or was written whole to the state folder
before anybody was told.
"""

import datetime
import json
import os
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

from deploy import greeting, logs, options, schema_mark
from deploy.accounts import NoAccount, server_account
from deploy.binaries import NoProgram, postgres_programs
from deploy.certificates import Certificates, certificates_for, phone_address
from deploy.children import Child, end_leftovers
from deploy.environment import REPOSITORY, Addresses, HalfConfigured, contract, own_databases
from deploy.ports import LOOPBACK, Claim, PortBusy, is_free, web_port
from deploy.postgres import APP, JOBS, OWNER, Cluster, PostgresFailed
from deploy.readiness import answer_status
from deploy.services import Processes, Service, Watched, local_url
from deploy.state import State, StateHeld, StateUnusable, default_folder, read_json, write_private
from deploy.valkey import Server, ValkeyFailed

EVERYWHERE = "0.0.0.0"
LOOK_S, HOUSEKEEPING_S, READY_S = 0.2, 60.0, 90.0
# Seconds each part gets to leave in good order; together below 20 s, PostgreSQL's last resort included.
STOP_S = {"beat": 1.5, "worker": 4.5, "web": 4.5, "valkey": 1.0, "postgres": 4.0}
HELPER_STOP_S = 0.3


class StartFailed(Exception):
    """A part did not come up; the text says which, with the end of its log."""


class StopRequested(Exception):
    """Somebody asked the server to stop while it was still starting."""


class Stack:
    """One running server: `start`, then `run` until a signal, then `stop`."""

    def __init__(self, chosen: options.Options) -> None:
        self.chosen = chosen
        self.databases = own_databases(os.environ)
        self.own_redis = os.environ.get("REDIS_URL")
        self.account = None if self.databases and self.own_redis else server_account()
        folder = chosen.state.absolute() if chosen.state else default_folder(REPOSITORY, self.account)
        self.state = State(folder, self.account)
        self.watched: list[Watched] = []
        self.certificates: Certificates | None = None
        self.processes: Processes
        self.claim: Claim | None = None
        self.stopping = False

    def __enter__(self) -> Self:
        self.state.__enter__()
        return self

    def __exit__(self, *error: object) -> None:
        try:
            self.stop()
        finally:
            if self.claim:
                self.claim.release()
            self.state.__exit__(*error)

    # --- starting ---------------------------------------------------------------------------------------

    def start(self) -> dict[str, Any]:
        """Bring everything up; returns what `running.json` says.  Raises StartFailed or a part's error."""
        end_leftovers(self.state.folder, self.state.parts())
        (self.state.folder / "running.json").unlink(missing_ok=True)
        host = os.environ.get("WEB_HOST", EVERYWHERE if self.chosen.lan_name else LOOPBACK)
        self.claim = web_port(self.chosen.port, 8443 if self.chosen.lan_name else 8000, host)
        port = self.claim.port
        origin = self._origin(port)
        addresses = self._start_servers()
        email = os.environ.get("EMAIL_URL")
        mail_port = None if email or not self.chosen.demo else self.state.port("mail")
        self.processes = Processes(
            self.state,
            contract(
                addresses,
                state=self.state.folder,
                secret_key=self.state.secret_path("secret-key"),
                origin=origin,
                programs=postgres_programs(None, self.state.programs),
                email_url=email or (f"smtp://{LOOPBACK}:{mail_port}" if mail_port else None),
            ),
        )
        self._remember_environment()
        if early := schema_mark.is_current(self.state.folder, addresses.owner):
            self._start_web(host, port)  # nothing to migrate: both load side by side
        demo = self._prepare()
        schema_mark.remember(self.state.folder, addresses.owner)
        if mail_port:
            self._watch("mail", self.processes.mail(mail_port))
        if not early:
            self._start_web(host, port)
        page = self._start_certificate_page(origin)
        self._wait_for_web(port, origin)
        # After the web: on two cores five programs that load at once keep the first page waiting.
        self._watch("worker", self.processes.worker())
        self._watch("beat", self.processes.beat())
        self._start_monitor(port, origin)
        self.running: dict[str, Any] = {
            "supervisor": os.getpid(),
            "origin": origin,
            "local_url": local_url(self._scheme, port, ""),
            "certificate_page": page,
            "authority": str(self.certificates.authority) if self.certificates else None,
            "mail_folder": str(self.state.mail) if mail_port else None,
            "sends_mail": bool(email),
            "demo": demo,
        }
        self._write_running()
        return self.running

    @property
    def _scheme(self) -> str:
        return "https" if self.certificates else "http"

    def _origin(self, port: int) -> str:
        if name := self.chosen.lan_name:
            place = self.state.folder / "authority"
            self.certificates = certificates_for(name, place, datetime.datetime.now(datetime.UTC))
            return f"https://{name}" if port == 443 else f"https://{name}:{port}"
        return os.environ.get("ORIGIN") or f"http://{LOOPBACK}:{port}"

    def _start_servers(self) -> Addresses:
        cluster = None if self.databases else Cluster.of(self.state)
        server = None if self.own_redis else Server.of(self.state)
        if cluster:
            self._watch("postgres", cluster)
        if server:
            self._watch("valkey", server)
        if cluster:
            cluster.wait_ready(pause=self._pause)
            cluster.ensure_database()
            databases = cluster.url(OWNER), cluster.url(APP), cluster.url(JOBS)
        else:
            assert self.databases is not None
            databases = self.databases
        if server:
            server.wait_ready(pause=self._pause)
        redis = server.url if server else self.own_redis
        assert redis is not None
        return Addresses(*databases, redis)

    def _remember_environment(self) -> None:
        """Keep the variables for `./deploy/manage`, which works on the same records."""
        kept = ("OWNER_DATABASE_URL", "DATABASE_URL", "JOBS_DATABASE_URL", "REDIS_URL", "ORIGIN", "EMAIL_URL")
        known = {name: self.processes.variables[name] for name in kept if name in self.processes.variables}
        write_private(self.state.secrets / "environment.json", json.dumps(known))

    def _prepare(self) -> dict[str, Any]:
        result = self.state.secrets / "prepared.json"
        result.unlink(missing_ok=True)
        child = self.processes.prepare(result, self.chosen.demo)
        child.start()
        try:
            while child.running():
                self._pause(0.02)
        finally:
            child.stop(2.0)
        if (found := read_json(result)) is None:
            raise StartFailed(f"The database could not be prepared:\n{child.tail()}")
        prepared: dict[str, Any] = found
        return prepared

    def _start_web(self, host: str, port: int) -> None:
        if not is_free(port, host):
            raise PortBusy(f"Port {port} was taken while starting; start again.")
        self._watch("web", self.processes.web(host, port, self.certificates))

    def _start_certificate_page(self, origin: str) -> str | None:
        if self.certificates is None or self.chosen.lan_name is None:
            return None
        port = self.state.port("certificate", EVERYWHERE)
        page = self.processes.certificate_page(self.certificates, port, self.chosen.lan_name, origin)
        self._watch("certificate", page)
        address = phone_address()
        return f"http://{address}:{port}/" if address else None

    def _wait_for_web(self, port: int, origin: str) -> None:
        web = next(entry.service for entry in self.watched if entry.name == "web")
        assert isinstance(web, Child)
        authority = self.certificates.authority if self.certificates else None
        deadline = time.monotonic() + READY_S
        url = local_url(self._scheme, port, "/readyz")
        while (status := answer_status(url, urlsplit(origin).netloc, authority)) != 200:
            if not web.running() or time.monotonic() > deadline:
                raise StartFailed(
                    f"The web server is not ready (/readyz: {status or 'no answer'}):\n{web.tail()}"
                )
            self._pause(0.05)

    def _start_monitor(self, port: int, origin: str) -> None:
        if url := os.environ.get("MONITOR_URL"):
            authority = self.certificates.authority if self.certificates else None
            health = local_url(self._scheme, port, "/healthz")
            self._watch("monitor", self.processes.monitor(url, health, urlsplit(origin).netloc, authority))

    def _watch(self, name: str, service: Service) -> None:
        entry = Watched(name, service, STOP_S.get(name, HELPER_STOP_S))
        self.watched.append(entry)
        entry.start(time.monotonic())

    def _pause(self, seconds: float) -> None:
        if self.stopping:
            raise StopRequested
        time.sleep(seconds)

    # --- running ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Watch the parts until a signal asks to stop."""
        housekeeping = time.monotonic() + HOUSEKEEPING_S
        while not self.stopping:
            now = time.monotonic()
            pids = self._pids()
            for entry in self.watched:
                if line := entry.look(now):
                    report(line)
            try:
                if self._pids() != pids:
                    self._write_running()
                if now >= housekeeping:
                    housekeeping = now + HOUSEKEEPING_S
                    self._keep_house()
            except OSError as problem:  # a full disk must not stop what still answers
                report(f"housekeeping failed: {problem}")
            time.sleep(LOOK_S)

    def _keep_house(self) -> None:
        logs.rotate(self.state.logs)
        if self.chosen.lan_name:
            place = self.state.folder / "authority"
            found = certificates_for(self.chosen.lan_name, place, datetime.datetime.now(datetime.UTC))
            if found.renewed:  # the watch starts the web server again, with the new files
                next(entry.service for entry in self.watched if entry.name == "web").stop(STOP_S["web"])

    def _pids(self) -> dict[str, int | None]:
        return {entry.name: entry.service.pid for entry in self.watched}

    def _write_running(self) -> None:
        self.running["pids"] = self._pids()
        self.running["restarts"] = {entry.name: entry.restarts for entry in self.watched}
        write_private(self.state.folder / "running.json", json.dumps(self.running, indent=1))

    # --- stopping ---------------------------------------------------------------------------------------

    def request_stop(self, *_: object) -> None:
        """Signal handler: leave at the next opportunity."""
        self.stopping = True

    def stop(self) -> list[str]:
        """Stop every part, those that need others first; returns the names of those that had to be ended."""
        order = ["beat", "worker", "web", "mail", "certificate", "monitor", "valkey", "postgres"]
        ended = []
        for entry in sorted(self.watched, key=lambda entry: order.index(entry.name)):
            if not entry.service.stop(entry.stop_s):
                ended.append(entry.name)
        self.watched.clear()
        (self.state.folder / "running.json").unlink(missing_ok=True)
        return ended


def tell(text: str) -> None:
    """Print for people; a terminal that went away must not stop the server."""
    try:
        print(text, flush=True)
    except OSError:
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115 - stays open as long as the process


def report(line: str) -> None:
    """Print something that happened, with the time of day."""
    tell(f"  {datetime.datetime.now().astimezone():%H:%M:%S}  {line}")


def greet(stack: Stack, running: dict[str, Any]) -> None:
    """Print address, sign-ins and places."""
    tell(
        greeting.greeting(
            origin=running["origin"],
            state=stack.state.folder,
            seconds=time.time() - greeting.started_at(),
            demo=running["demo"],
            mail=Path(running["mail_folder"]) if running["mail_folder"] else None,
            sends_mail=running["sends_mail"],
        )
    )
    if stack.certificates:
        unicode = (sys.stdout.encoding or "").lower().startswith("utf")
        page = running["certificate_page"]
        tell(greeting.certificate_lines(stack.certificates, running["origin"], page, unicode))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run until stopped.  Returns 0 after a clean stop, 1 when a part failed, 2 for impossible choices."""
    os.umask(0o077)
    chosen = options.parse(sys.argv[1:] if arguments is None else arguments)
    try:
        stack = Stack(chosen)
        _listen_to_signals(stack)
        with stack:
            try:
                tell("Starting the kennel server ...")
                greet(stack, stack.start())
                stack.run()
            except StopRequested:
                pass
            tell("Stopping ...")
            ended = stack.stop()
            tell(f"Stopped{': ' + ', '.join(ended) + ' had to be ended' if ended else ''}.")
    except (StateHeld, StateUnusable, HalfConfigured, NoAccount, PortBusy) as refusal:
        print(refusal, file=sys.stderr)
        return 2
    except (StartFailed, PostgresFailed, ValkeyFailed, NoProgram) as failure:
        print(failure, file=sys.stderr)
        return 1
    return 0


def _listen_to_signals(stack: Stack) -> None:
    for wish in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        if signal.getsignal(wish) is not signal.SIG_IGN:  # nohup keeps its meaning
            signal.signal(wish, stack.request_stop)


if __name__ == "__main__":
    sys.exit(main())
