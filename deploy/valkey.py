"""One Valkey server of our own: broker messages and expiring counters, nothing that must survive.

    with Server(folder) as server:
        redis.Redis.from_url(server.url)

It listens on 127.0.0.1 only and asks for a password.
"""

import secrets
import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

from deploy.accounts import Account, give, server_account
from deploy.binaries import valkey_program
from deploy.children import Child, end_leftovers
from deploy.ports import LOOPBACK, any_free
from deploy.state import State, write_private

# `noeviction`: a full server refuses new messages, which is seen, instead of dropping old ones, which is not.
SETTINGS = {
    "save": '""',
    "appendonly": "no",
    "maxmemory": "256mb",
    "maxmemory-policy": "noeviction",
    "tcp-keepalive": "60",
    "crash-log-enabled": "no",
}


class ValkeyFailed(Exception):
    """The server did not come up; the text holds the end of its log."""


class Server:
    """A Valkey server on 127.0.0.1 with a password."""

    def __init__(
        self,
        folder: Path,
        *,
        port: int | None = None,
        password: str | None = None,
        account: Account | None = None,
        log: Path | None = None,
        programs: Path | None = None,
    ) -> None:
        self.folder = folder.absolute()
        self.account = account or server_account(self.folder)
        self.program = valkey_program(self.account, programs or self.folder.parent / "programs")
        self.log = log or self.folder.parent / "valkey.log"
        self.port = port
        self._password = password or secrets.token_urlsafe(24)
        self._child: Child | None = None

    @classmethod
    def of(cls, state: State) -> Self:
        """The server of a state folder."""
        return cls(
            state.folder / "valkey",
            password=state.secret("valkey", 24),
            account=state.account,
            log=state.logs / "valkey.log",
            programs=state.programs,
            port=state.port("valkey"),
        )

    def __enter__(self) -> Self:
        self.start()
        try:
            self.wait_ready()
        except BaseException:
            self.stop()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def url(self) -> str:
        """Address with the password in it."""
        return f"redis://:{self._password}@{LOOPBACK}:{self.port}/0"

    def start(self) -> None:
        """Start the server without waiting for it to answer."""
        self.folder.mkdir(parents=True, exist_ok=True)
        give(self.folder, self.account)
        self.folder.chmod(0o700)
        end_leftovers(self.folder, [self.folder])
        if self.port is None:
            self.port = any_free()
        self._child = Child(
            name="Valkey",
            command=[str(self.program), str(self._write_settings())],
            environment={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"},
            log=self.log,
            account=self.account,
        )
        self._child.start()

    def _write_settings(self) -> Path:
        """The settings in a file only the server can read: everybody can see a command line."""
        path = self.folder / "valkey.conf"
        places = {
            "bind": LOOPBACK,
            "port": str(self.port),
            "dir": f'"{self.folder}"',
            "requirepass": self._password,
        }
        write_private(path, "".join(f"{name} {value}\n" for name, value in (SETTINGS | places).items()))
        give(path, self.account)
        return path

    def wait_ready(self, seconds: float = 20.0, pause: Callable[[float], None] = time.sleep) -> None:
        """Wait until the server answers to our password.  Raises ValkeyFailed."""
        deadline = time.monotonic() + seconds
        while not self.answers():
            assert self._child is not None
            if not self._child.running():
                raise ValkeyFailed(f"Valkey ended while starting:\n{self._child.tail()}")
            if time.monotonic() > deadline:
                raise ValkeyFailed(f"Valkey does not answer:\n{self._child.tail()}")
            pause(0.02)

    def answers(self) -> bool:
        """Whether the server takes our password and answers a ping."""
        assert self.port is not None
        try:
            with socket.create_connection((LOOPBACK, self.port), timeout=2) as connection:
                connection.sendall(f"AUTH {self._password}\r\nPING\r\nQUIT\r\n".encode())
                answer = b""
                while part := connection.recv(1024):
                    answer += part
        except OSError:
            return False
        return answer.split(b"\r\n")[:2] == [b"+OK", b"+PONG"]

    @property
    def pid(self) -> int | None:
        """Number of the server's process."""
        return self._child.pid if self._child else None

    def running(self) -> bool:
        """Whether the server's process runs."""
        return self._child is not None and self._child.running()

    def stop(self, seconds: float = 3.0) -> bool:
        """Stop the server; returns whether it left by itself."""
        return self._child is None or self._child.stop(seconds)
