"""The whole server: started, cut down in every way, started again.  Nothing acknowledged may be missing."""

import datetime
import http.client
import json
import os
import signal
import smtplib
import socket
import ssl
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psutil
import psycopg
import pytest

from deploy.children import leftovers
from deploy.command import variables_for
from deploy.environment import REPOSITORY
from deploy.harness import DidNotStart, RunningStack
from deploy.postgres import APP, JOBS, OWNER, Cluster
from deploy.readiness import answer_status
from deploy.state import read_json
from deploy.valkey import Server

pytestmark = [pytest.mark.e2e, pytest.mark.timeout(600)]

PARTS = ["postgres", "valkey", "mail", "web", "worker", "beat"]


class Writer(threading.Thread):
    """Records weights through the API without rest, the way a device does, and remembers which were acknowledged.

    After a refusal or a cut connection the same bytes are sent again under the same uid.
    """

    def __init__(self, stack: RunningStack) -> None:
        super().__init__()
        self.address = urlsplit(stack.url).netloc
        demo = stack.running["demo"]
        self.path = f"/api/v1/kennels/{demo['kennel']}"
        self.headers = {
            "Authorization": f"Bearer {demo['device_token']}",
            "Content-Type": "application/json",
            "Host": stack.host,
        }
        _, pups = self.ask("GET", f"{self.path}/pups?limit=1")
        self.pup = pups["results"][0]["uid"]
        self.acknowledged: set[uuid.UUID] = set()
        self.last: uuid.UUID | None = None
        self.refusals: set[int] = set()
        self.enough = threading.Event()

    def ask(self, method: str, path: str, body: dict[str, object] | None = None) -> tuple[int, Any]:
        """Status and body of one request.  Raises OSError or HTTPException when the answer is lost."""
        connection = http.client.HTTPConnection(self.address, timeout=10)
        try:
            connection.request(method, path, json.dumps(body) if body else None, self.headers)
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read())
        finally:
            connection.close()

    def run(self) -> None:
        """Record weight after weight; each is sent until it is acknowledged or there is enough."""
        while not self.enough.is_set():
            self.last = uuid.uuid4()
            at = datetime.datetime.now(datetime.UTC).isoformat()
            body: dict[str, object] = {
                "uid": str(self.last), "pup": self.pup, "weight_g": 512, "occurred_at": at
            }  # fmt: skip
            while not self.enough.is_set() and not self.sent(body):
                time.sleep(0.05)

    def sent(self, body: dict[str, object]) -> bool:
        """Whether the server acknowledged this weight."""
        try:
            status, _ = self.ask("POST", f"{self.path}/weighings", body)
        except (OSError, http.client.HTTPException, ValueError):
            return False
        if status in {200, 201}:
            self.acknowledged.add(uuid.UUID(str(body["uid"])))
            return True
        self.refusals.add(status)
        return False

    def wait_for_more(self, count: int = 15, seconds: float = 60.0) -> None:
        """Wait until that many more weights were acknowledged."""
        enough, deadline = len(self.acknowledged) + count, time.monotonic() + seconds
        while len(self.acknowledged) < enough:
            assert time.monotonic() < deadline, f"too few weights acknowledged; refusals: {self.refusals}"
            time.sleep(0.02)

    def finish(self) -> None:
        """Stop writing."""
        self.enough.set()
        self.join()

    def check(self, stack: RunningStack) -> None:
        """Every acknowledged weight is there once, and no refusal said anything but "send the same again"."""
        with psycopg.connect(owner_of(stack)) as connection:
            rows = connection.execute("SELECT uid FROM litters_weighing WHERE weight_g = 512").fetchall()
        present = {row[0] for row in rows}
        assert len(rows) == len(present)
        assert self.acknowledged <= present
        assert self.refusals <= {503}


def owner_of(stack: RunningStack) -> str:
    """The owner's address of a running server."""
    return str(read_json(stack.state / "secrets" / "environment.json")["OWNER_DATABASE_URL"])


@pytest.fixture(autouse=True)
def _no_servers_of_ones_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """The addresses the other tests use are not for these."""
    for name in ("OWNER_DATABASE_URL", "DATABASE_URL", "JOBS_DATABASE_URL", "REDIS_URL", "DB_ROLE"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture(scope="module")
def stack(shared_place: Path) -> Iterator[RunningStack]:
    """One running server with the demo, shared by the tests of this module."""
    # No weight is refused for being one too many a minute.
    running = RunningStack(shared_place / "state", variables={"QUOTA_PER_MINUTE": "1000000"})
    running.start()
    yield running
    running.stop()


def test_it_says_where_it_answers_who_can_sign_in_and_where_mail_goes(stack: RunningStack) -> None:
    said = stack.log.read_text()
    described = stack.running
    assert described["origin"] in said
    assert described["mail_folder"] in said
    for person in described["demo"]["sign_ins"]:
        assert person["email"] in said
        assert person["password"] in said
    assert described["demo"]["device_token"] in said
    assert sorted(described["pids"]) == sorted(PARTS)


def test_everything_listens_on_this_machine_only(stack: RunningStack) -> None:
    listening = set()
    for process in [psutil.Process(stack.pid(name)) for name in PARTS]:
        for member in [process, *process.children(recursive=True)]:
            listening |= {
                c.laddr.ip for c in member.net_connections("inet") if c.status == psutil.CONN_LISTEN
            }
    assert listening == {"127.0.0.1"}


def test_the_mail_folder_takes_mail(stack: RunningStack) -> None:
    address = read_json(stack.state / "secrets" / "environment.json")["EMAIL_URL"]
    with smtplib.SMTP("127.0.0.1", int(address.rsplit(":", 1)[1])) as client:
        client.sendmail("a@hollin-bank.example", ["oona@hollin-bank.example"], "Subject: due\r\n\r\nnow\r\n")
    mails = [path.read_text() for path in Path(stack.running["mail_folder"]).glob("*.eml")]
    assert any("X-Envelope-To: oona@hollin-bank.example" in mail for mail in mails)


def test_a_second_server_on_the_same_folder_is_refused_with_code_2(stack: RunningStack) -> None:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "deploy.supervisor", "--state", str(stack.state), "--port", "0"],
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "already running" in done.stderr
    assert stack.wait_ready(5) < 5


def test_a_management_command_works_on_the_running_servers_records(stack: RunningStack) -> None:
    with variables_for(stack.state) as variables:
        assert variables["DB_ROLE"] == "owner"
        with psycopg.connect(variables["OWNER_DATABASE_URL"]) as connection:
            row = connection.execute("SELECT current_user, count(*) FROM django_migrations").fetchone()
    assert row is not None
    assert row[0] == "kennel_owner"
    assert row[1] > 0


@pytest.mark.parametrize("name", PARTS)
def test_a_killed_part_comes_back_and_nothing_acknowledged_is_missing(stack: RunningStack, name: str) -> None:
    writer = Writer(stack)
    writer.start()
    writer.wait_for_more()
    number = stack.kill(name)
    stack.wait_for_another(name, number)
    stack.wait_ready()
    writer.wait_for_more()
    writer.finish()
    writer.check(stack)


def test_a_killed_web_worker_process_is_replaced_while_the_other_answers(stack: RunningStack) -> None:
    def workers() -> list[psutil.Process]:
        children = psutil.Process(stack.pid("web")).children()
        return [child for child in children if "resource_tracker" not in " ".join(child.cmdline())]

    number, before = stack.pid("web"), workers()
    assert len(before) == 2
    before[0].kill()
    before[0].wait(5)
    assert stack.wait_ready() < 3  # a process that starts takes longer
    deadline = time.monotonic() + 20
    while len(now := workers()) < 2:
        assert time.monotonic() < deadline
        time.sleep(0.1)
    assert before[1] in now
    assert before[0] not in now
    assert stack.pid("web") == number


@pytest.mark.parametrize("cut", ["kill_supervisor", "kill_everything"])
def test_after_a_kill_of_the_supervisor_or_of_everything_the_next_start_serves(
    stack: RunningStack, cut: str
) -> None:
    writer = Writer(stack)
    writer.start()
    writer.wait_for_more()
    getattr(stack, cut)()
    writer.finish()
    seconds = stack.start()
    assert stack.wait_ready() < 10
    assert seconds < 60
    writer.check(stack)


@pytest.mark.parametrize("wish", [signal.SIGTERM, signal.SIGINT])
def test_it_stops_in_good_order_and_leaves_no_process(stack: RunningStack, wish: signal.Signals) -> None:
    folders = [stack.state / "postgres" / "data", stack.state / "valkey"]
    began = time.monotonic()
    assert stack.stop(wish) == 0
    assert time.monotonic() - began < 20
    assert leftovers(stack.state, folders) == []
    assert "had to be ended" not in stack.log.read_text()
    assert "database system is shut down" in (stack.state / "log" / "postgresql.log").read_text()
    assert not (stack.state / "running.json").exists()
    assert stack.start() < 60


def test_an_owners_command_starts_the_database_for_itself_when_the_server_is_stopped(
    stack: RunningStack,
) -> None:
    stack.stop()
    with (
        variables_for(stack.state) as variables,
        psycopg.connect(variables["OWNER_DATABASE_URL"]) as connection,
    ):
        row = connection.execute("SELECT count(*) FROM django_migrations").fetchone()
    assert row is not None
    assert row[0] > 0
    assert leftovers(stack.state, [stack.state / "postgres" / "data", stack.state / "valkey"]) == []
    stack.start()


def test_https_under_a_name_is_trusted_with_the_local_authority_only(stack: RunningStack) -> None:
    stack.stop()
    arguments, stack.arguments = stack.arguments, ["--lan-name", "nursery.local"]
    try:
        stack.start()
        authority = Path(stack.running["authority"])
        assert stack.running["origin"].startswith("https://nursery.local:")
        assert answer_status(f"{stack.url}/readyz", stack.host, authority) == 200
        stranger = ssl.create_default_context()
        port = int(stack.url.rsplit(":", 1)[1])
        with (
            socket.create_connection(("127.0.0.1", port)) as plain,
            pytest.raises(ssl.SSLCertVerificationError),
        ):
            stranger.wrap_socket(plain, server_hostname="nursery.local")
        assert authority.read_text() not in stack.log.read_text()
        assert "SHA-256" in stack.log.read_text()
    finally:
        stack.stop()
        stack.arguments = arguments
        stack.start()


def test_servers_of_ones_own_are_used_instead_of_the_built_in_ones(shared_place: Path) -> None:
    place = shared_place / "own"
    with Cluster(place / "postgres", durable=False) as cluster, Server(place / "valkey") as server:
        variables = {
            "OWNER_DATABASE_URL": cluster.url(OWNER),
            "DATABASE_URL": cluster.url(APP),
            "JOBS_DATABASE_URL": cluster.url(JOBS),
            "REDIS_URL": server.url,
        }
        with RunningStack(shared_place / "elsewhere", ["--no-demo"], variables) as stack:
            assert sorted(stack.running["pids"]) == ["beat", "web", "worker"]
            assert not (stack.state / "postgres").exists()
            with psycopg.connect(cluster.url(OWNER)) as connection:
                row = connection.execute("SELECT count(*) FROM django_migrations").fetchone()
            assert row is not None
            assert row[0] > 0
            assert stack.stop() == 0
        assert server.answers()
        del variables["JOBS_DATABASE_URL"]
        with pytest.raises(DidNotStart, match="missing: JOBS_DATABASE_URL"):
            RunningStack(shared_place / "half", ["--no-demo"], variables).start()


def test_a_part_that_cannot_start_is_named_with_the_end_of_its_log_and_leaves_nothing(
    stack: RunningStack,
) -> None:
    broken = RunningStack(stack.state.parent / "broken", variables={"EMAIL_URL": "pigeon://loft"})
    with pytest.raises(DidNotStart, match="database could not be prepared"):
        broken.start()
    assert "EMAIL_URL must be" in broken.log.read_text()
    assert leftovers(broken.state, [broken.state / "postgres" / "data", broken.state / "valkey"]) == []
