"""One PostgreSQL server of our own, from the programs in the wheel.

    with Cluster(folder, durable=False) as cluster:
        psycopg.connect(cluster.url("kennel_owner"))

Whoever uses a folder must be its only user (the supervisor holds the state folder's lock).  The server
listens on 127.0.0.1 only and knows only password sign-in (SCRAM).
"""

import secrets
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

import psycopg
from psycopg import sql

from deploy.accounts import Account, give, server_account
from deploy.binaries import postgres_programs
from deploy.children import Child, end_leftovers
from deploy.ports import LOOPBACK, any_free
from deploy.state import State, write_private

DATABASE = "kennel"
OWNER, APP, JOBS = "kennel_owner", "kennel_app", "kennel_jobs"
SUPERUSER = "postgres"

SETTINGS = {
    "shared_buffers": "128MB",
    "max_connections": "100",
    "timezone": "UTC",
    "log_timezone": "UTC",
    "lc_messages": "C",
    "log_statement": "none",
    # No statement reaches the log, not even a failing one: it may hold a buyer's address.
    "log_min_error_statement": "panic",
    "log_parameter_max_length_on_error": "0",
    "log_error_verbosity": "terse",
}
# For servers that live as long as a test run: a power cut may cost everything, which is nothing.
THROW_AWAY = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "autovacuum_naptime": "10s",
}


class PostgresFailed(Exception):
    """The server did not come up; the text holds the end of its log."""


class Cluster:
    """A PostgreSQL server in a folder, with our three roles and one database.

    folder: made when missing; holds `data`.  durable: False leaves out every flush to disk (tests).
    password: gives the password of a role; by default random ones that die with the object, so a folder used
    again needs the same function.  can_create_databases: lets the owner make databases, and
    empty them (test runners do).
    """

    def __init__(
        self,
        folder: Path,
        *,
        port: int | None = None,
        durable: bool = True,
        password: Callable[[str], str] | None = None,
        account: Account | None = None,
        log: Path | None = None,
        programs: Path | None = None,
        can_create_databases: bool = False,
    ) -> None:
        self.folder = folder.absolute()
        self.data = self.folder / "data"
        self.durable = durable
        self.can_create_databases = can_create_databases
        self._passwords: dict[str, str] = {}
        self._password = password or self._invented
        self.account = account or server_account(self.data)
        self.programs = postgres_programs(self.account, programs or self.folder.parent / "programs")
        self.log = log or self.folder.parent / "postgresql.log"
        self.port = port
        self._child: Child | None = None

    @classmethod
    def of(cls, state: State) -> Self:
        """The server of a state folder, with the passwords and the log kept there."""
        return cls(
            state.folder / "postgres",
            password=lambda role: state.secret(f"postgres-{role}", 24),
            account=state.account,
            log=state.logs / "postgresql.log",
            programs=state.programs,
            port=state.port("postgres"),
        )

    def _invented(self, role: str) -> str:
        return self._passwords.setdefault(role, secrets.token_urlsafe(24))

    def __enter__(self) -> Self:
        self.start()
        try:
            self.wait_ready()
            self.ensure_database()
        except BaseException:
            self.stop()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def url(self, role: str, database: str = DATABASE) -> str:
        """Address of a database for a role, password included."""
        return f"postgresql://{role}:{self._password(role)}@{LOOPBACK}:{self.port}/{database}"

    def start(self) -> None:
        """Start the server (and make the cluster the first time) without waiting for it to answer."""
        self.folder.mkdir(parents=True, exist_ok=True)
        give(self.folder, self.account)
        self.folder.chmod(0o700)
        if not (self.data / "PG_VERSION").exists():
            self._initialise()
        self._refuse_other_version()
        self._clear_away_earlier()
        if self.port is None:
            self.port = any_free()
        self._child = self._make_child()
        self._child.start()

    def _make_child(self) -> Child:
        command = [str(self.programs / "postgres"), "-D", str(self.data), "-p", str(self.port)]
        # No socket file: its path would be cut at 107 bytes in a deep folder.
        command += ["-c", f"listen_addresses={LOOPBACK}", "-c", "unix_socket_directories="]
        return Child(
            name="PostgreSQL",
            command=command,
            environment=_environment(),
            log=self.log,
            folder=self.data if self.account is None else None,
            account=self.account,
            stop_signal=signal.SIGINT,  # fast: sessions end, everything is written, no recovery next time
        )

    def _initialise(self) -> None:
        """Make the cluster beside its place and move it there whole: a crash leaves nothing half made."""
        unfinished = self.folder / "data.new"
        shutil.rmtree(unfinished, ignore_errors=True)
        shutil.rmtree(self.data, ignore_errors=True)
        word = self.folder / "superuser.txt"
        write_private(word, self._password(SUPERUSER))
        give(word, self.account)
        settings = SETTINGS if self.durable else SETTINGS | THROW_AWAY
        command = [str(self.programs / "initdb"), "-D", str(unfinished), "-U", SUPERUSER, f"--pwfile={word}"]
        command += [
            "--auth=scram-sha-256",
            "--encoding=UTF8",
            "--locale-provider=builtin",
            "--locale=C.UTF-8",
        ]
        command += [f"--set={name}={value}" for name, value in settings.items()]
        command += [] if self.durable else ["--no-sync"]
        done = subprocess.run(
            command,
            env=_environment(),
            cwd="/",
            capture_output=True,
            text=True,
            check=False,
            user=self.account.uid if self.account else None,
            group=self.account.gid if self.account else None,
            extra_groups=[] if self.account else None,
        )
        word.unlink()
        if done.returncode:
            raise PostgresFailed(f"initdb failed:\n{done.stdout[-1500:]}{done.stderr[-1500:]}")
        unfinished.replace(self.data)

    def _refuse_other_version(self) -> None:
        have = (self.data / "PG_VERSION").read_text().strip()
        answer = subprocess.run(
            [self.programs / "postgres", "--version"], capture_output=True, text=True, check=True
        )
        ours = answer.stdout.split()[-1].split(".")[0]
        if have != ours:
            raise PostgresFailed(
                f"The data in {self.data} is of PostgreSQL {have}, the installed server is {ours}."
                " Back up with the release that made it, move the folder away, start this one and restore."
            )

    def _clear_away_earlier(self) -> None:
        """End an earlier server of this folder, and remove its pid file.

        After a power cut the number in the file may belong to any live process, and the server would refuse
        to start.
        """
        end_leftovers(self.folder, [self.data])
        (self.data / "postmaster.pid").unlink(missing_ok=True)

    def wait_ready(self, seconds: float = 120.0, pause: Callable[[float], None] = time.sleep) -> None:
        """Wait until the server takes our password (after a crash it first replays its journal).

        pause: sleeps; may raise to stop the waiting.  Raises PostgresFailed.
        """
        deadline = time.monotonic() + seconds
        while True:
            assert self._child is not None
            if not self._child.running():
                raise PostgresFailed(f"PostgreSQL ended while starting:\n{self._child.tail()}")
            try:
                psycopg.connect(self.url(SUPERUSER, "postgres"), connect_timeout=3).close()
                return
            except psycopg.OperationalError as refusal:
                if time.monotonic() > deadline or "password authentication failed" in str(refusal):
                    raise PostgresFailed(
                        f"PostgreSQL does not answer: {refusal}\n{self._child.tail()}"
                    ) from refusal
            pause(0.03)

    def ensure_database(self) -> None:
        """Roles, passwords and the database as they must be; harmless to repeat."""
        with psycopg.connect(self.url(SUPERUSER, "postgres"), autocommit=True) as connection:
            connection.execute((Path(__file__).parent / "roles.sql").read_bytes())
            for role in (OWNER, APP, JOBS):
                # Hashed here, so that the word itself never reaches the server.
                verifier = connection.pgconn.encrypt_password(
                    self._password(role).encode(), role.encode(), b"scram-sha-256"
                )
                statement = sql.SQL("ALTER ROLE {} PASSWORD {}")
                connection.execute(statement.format(sql.Identifier(role), sql.Literal(verifier.decode())))
            if self.can_create_databases:
                owner = sql.Identifier(OWNER)
                connection.execute(sql.SQL("ALTER ROLE {} CREATEDB").format(owner))
                # Tests empty tables past the triggers that forbid it to everybody else.
                connection.execute(
                    sql.SQL("GRANT SET ON PARAMETER session_replication_role TO {}").format(owner)
                )
            if connection.execute("SELECT FROM pg_database WHERE datname = %s", [DATABASE]).rowcount == 0:
                statement = sql.SQL("CREATE DATABASE {} OWNER {}")
                connection.execute(statement.format(sql.Identifier(DATABASE), sql.Identifier(OWNER)))

    @property
    def pid(self) -> int | None:
        """Number of the server's main process."""
        return self._child.pid if self._child else None

    def running(self) -> bool:
        """Whether the server's main process runs."""
        return self._child is not None and self._child.running()

    def stop(self, seconds: float = 10.0) -> bool:
        """Fast, clean stop; after that many seconds the immediate one.  Returns whether it was clean."""
        if self._child is None or self._child.process is None:
            return True
        if not self.durable:
            self._child.stop_signal = signal.SIGQUIT
        if not self.running():
            return True
        process = self._child.process
        process.send_signal(self._child.stop_signal)
        try:
            process.wait(seconds)
            return True
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGQUIT)
        self._child.stop(3.0)
        end_leftovers(self.folder, [self.data], patience_s=1.0)
        return False


def _environment() -> dict[str, str]:
    """Nothing of ours: a stray PGDATA, PGPORT or LC_ALL must not change the server."""
    return {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"}
