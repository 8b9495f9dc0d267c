"""Fault test 3: PostgreSQL stops at once in the middle of requests, and comes back."""

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from deploy.postgres import APP, JOBS, OWNER, Cluster
from kennel.records.ids import new_uid
from tests.faults.history import History, faults_of_creates
from tests.faults.server import ROOT, AppServer, Client

pytestmark = [pytest.mark.fault, pytest.mark.e2e]

_SETUP = """
import django, json
django.setup()
from tests.factories.people import make_kennel, make_device
place = make_kennel()
tokens = [make_device(place, carer=place.keeper)[1] for _ in range(6)]
print(json.dumps({"kennel": str(place.here.uid), "tokens": tokens}))
"""


@pytest.fixture
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL of this test alone, with every flush to disk on: acknowledged means stored."""
    with tempfile.TemporaryDirectory(prefix="kennel-test-") as name:
        Path(name).chmod(0o711)
        with Cluster(Path(name) / "postgres") as started:
            yield started


def _environment(cluster: Cluster) -> dict[str, str]:
    return {
        "OWNER_DATABASE_URL": cluster.url(OWNER),
        "DATABASE_URL": cluster.url(APP),
        "JOBS_DATABASE_URL": cluster.url(JOBS),
        "DJANGO_SETTINGS_MODULE": "kennel.settings",
        "PYTHONPATH": str(ROOT),
    }


def _run(command: list[str], environment: dict[str, str]) -> str:
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **environment}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


def _stop_at_once(cluster: Cluster) -> None:
    assert cluster.pid is not None
    os.kill(
        cluster.pid, signal.SIGQUIT
    )  # the immediate stop of pg_ctl: no goodbye, recovery at the next start
    deadline = time.monotonic() + 20
    while cluster.running():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_3_an_immediate_stop_costs_no_acknowledged_write_and_no_restart_by_hand(
    cluster: Cluster, tmp_path: Path
) -> None:
    environment = _environment(cluster)
    _run([sys.executable, "manage.py", "migrate", "-v0"], {**environment, "DB_ROLE": "owner"})
    made = json.loads(_run([sys.executable, "-c", _SETUP], environment).splitlines()[-1])
    history, stop = History(), threading.Event()
    seen: list[tuple[float, int]] = []
    problems: list[str] = []

    def write(token: str, port: int) -> None:
        client = Client(port, made["kennel"], token)
        while not stop.is_set():
            body = {"uid": str(new_uid()), "name": "Bramble", "sex": "female"}
            while True:  # the client rule: the same bytes until somebody says yes or no
                answer = client.send("POST", "dogs", body)
                history.note_status(body["uid"], answer.status)
                seen.append((time.monotonic(), answer.status))
                if answer.status in (200, 201):
                    break
                if answer.status and (answer.status != 503 or answer.slug != "unavailable"):
                    problems.append(f"{answer.status} {answer.body[:200]!r}")
                time.sleep(0.05)

    with AppServer(tmp_path / "granian.log", environment, threads=8) as server:
        before = server.pids
        # Daemons: a run in which an assertion fails must still end.
        writers = [
            threading.Thread(target=write, args=(token, server.port), daemon=True) for token in made["tokens"]
        ]
        for writer in writers:
            writer.start()
        returns = []
        for _ in range(2):
            time.sleep(1.0)
            _stop_at_once(cluster)
            time.sleep(1.0)
            cluster.start()
            cluster.wait_ready()
            returns.append(time.monotonic())
            time.sleep(2.0)
        stop.set()
        for writer in writers:
            writer.join(30)
            assert not writer.is_alive()
        assert server.pids == before, "no process was restarted"
    with psycopg.connect(cluster.url(OWNER)) as owner:
        present = [uid for (uid,) in owner.execute("SELECT uid::text FROM litters_dog")]
        journal = [
            uid for (uid,) in owner.execute("SELECT uid::text FROM records_journal WHERE type = 'dog'")
        ]
    assert problems == []
    assert {status for _, status in seen} >= {201}
    assert any(status in (0, 503) for _, status in seen), "the stop was never noticed"
    assert faults_of_creates(history, present) == []
    assert sorted(journal) == sorted(present), "each row has its one line in the journal"
    assert len(history.acknowledged) > 20
    for returned in returns:
        first = min(moment for moment, status in seen if moment > returned and status in (200, 201))
        assert first - returned <= 5
