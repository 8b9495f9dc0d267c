"""The web server as a child process on loopback, and a small client that says when an outcome is unknown."""

import http.client
import json
import os
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from deploy.ports import any_free

ROOT = Path(__file__).resolve().parents[2]
START_S = 60


@dataclass
class AppServer:
    """granian with the real application; `environment` says which database."""

    log: Path
    environment: dict[str, str] = field(default_factory=dict)
    threads: int = 8
    port: int = field(default_factory=any_free)
    process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1"]
        command += ["--port", str(self.port), "--workers", "1", "--blocking-threads", str(self.threads)]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*command, "kennel.wsgi:application"],
                cwd=ROOT,
                env={**os.environ, "DB_POOLED": "yes", **self.environment},
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._wait()
        return self

    def _wait(self) -> None:
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline:
            assert self.process is not None
            assert self.process.poll() is None, self.log.read_text()[-3000:]
            try:
                connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
                connection.request("GET", "/livez")
                if connection.getresponse().status == 200:
                    return
            except OSError:
                time.sleep(0.1)
        raise TimeoutError(self.log.read_text()[-3000:])

    def __exit__(self, *_: object) -> None:
        if self.process and self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(15)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(15)

    @property
    def pids(self) -> list[int]:
        """The process and its workers."""
        assert self.process is not None
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        return [self.process.pid, *map(int, children)]

    def memory_bytes(self) -> int:
        """Resident memory of the process and its workers."""
        pages = [int(Path(f"/proc/{pid}/statm").read_text().split()[1]) for pid in self.pids]
        return sum(pages) * os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True)
class Answer:
    """What a client got: status 0 when the connection broke and nobody can say what happened."""

    status: int
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""
    seconds: float = 0.0

    @property
    def is_unknown(self) -> bool:
        """Whether the server may or may not have done it."""
        return self.status == 0

    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)

    @property
    def slug(self) -> str:
        """Problem slug."""
        assert self.headers.get("content-type") == "application/problem+json", (self.status, self.body[:300])
        return str(self.json()["type"]).removeprefix("/problems/")


class Client:
    """One device that speaks to a port of this machine.  Each thread needs its own."""

    def __init__(self, port: int, kennel: str, token: str, timeout_s: float = 20) -> None:
        self.port, self.token, self.timeout_s = port, token, timeout_s
        self.base = f"/api/v1/kennels/{kennel}/"
        self._connection: http.client.HTTPConnection | None = None

    def other_port(self, port: int) -> "Client":
        """The same device by another way."""
        made = Client(port, "", self.token, self.timeout_s)
        made.base = self.base
        return made

    def send(
        self, method: str, path: str, data: Any = None, version: int | None = None, **headers: str
    ) -> Answer:
        """Any request; bytes are sent as they are."""
        body = data if isinstance(data, bytes) else b"" if data is None else json.dumps(data).encode()
        sent = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        if version is not None:
            sent["If-Match"] = f'"v{version}"'
        began = time.monotonic()
        try:
            if self._connection is None:
                self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=self.timeout_s)
                self._connection.connect()
                self._connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._connection.request(method, path if path.startswith("/") else self.base + path, body, sent)
            answer = self._connection.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            self.close()
            return Answer(0, seconds=time.monotonic() - began)
        found = {name.lower(): value for name, value in answer.getheaders()}
        return Answer(answer.status, found, content, time.monotonic() - began)

    def close(self) -> None:
        """Drop the connection."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def until_settled(
        self, method: str, path: str, data: Any = None, version: int | None = None, seconds: float = 30
    ) -> Answer:
        """Send the same again, as the client rule says: on a broken connection, 429 and 5xx."""
        deadline = time.monotonic() + seconds
        while True:
            answer = self.send(method, path, data, version)
            again = answer.is_unknown or answer.status in (429, 500, 503)
            if not again or time.monotonic() > deadline:
                return answer
            time.sleep(0.05)
