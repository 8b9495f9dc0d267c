"""Backup, verify and restore with PostgreSQL's own programs, as the commands a person types."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest

from tests.api import DeviceClient
from tests.cleaning import drop_database
from tests.factories.people import make_kennel

pytestmark = pytest.mark.usefixtures("db")
ROOT = Path(__file__).resolve().parents[3]


def manage(*words: str, role: str = "owner", **more: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**os.environ, "DB_ROLE": role, **more},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def records() -> DeviceClient:
    client = DeviceClient(make_kennel())
    dog = client.post("dogs", {"name": "Bramble", "sex": "female"}).json()["uid"]
    for day in range(1, 8):
        client.post(
            "weighings", {"dog": dog, "occurred_at": f"2026-02-0{day}T07:00:00Z", "weight_g": 19000 + day}
        )
    return client


@pytest.fixture
def empty(owner: psycopg.Connection) -> Iterator[str]:
    name = f"{urlsplit(os.environ['OWNER_DATABASE_URL']).path[1:]}_restored"
    drop_database(owner, name)
    owner.execute(f'CREATE DATABASE "{name}"')
    yield urlunsplit(urlsplit(os.environ["OWNER_DATABASE_URL"])._replace(path=f"/{name}"))
    drop_database(owner, name)


def test_a_backup_restores_to_equal_rows_with_a_new_epoch(
    records: DeviceClient, empty: str, tmp_path: Path
) -> None:
    cursor = records.get("changes").json()["cursor"]
    file = tmp_path / "kennel.backup"
    made = manage("backup", str(file))
    assert made.returncode == 0, made.stderr
    assert manage("verify", str(file)).returncode == 0
    restored = manage("restore", str(file), OWNER_DATABASE_URL=empty)
    assert restored.returncode == 0, restored.stderr
    with psycopg.connect(os.environ["OWNER_DATABASE_URL"]) as here, psycopg.connect(empty) as there:
        for table in ("litters_weighing", "records_journal", "people_carer"):
            query = f"SELECT count(*), sum(hashtextextended(t::text, 0)::numeric) FROM {table} t"
            assert here.execute(query).fetchone() == there.execute(query).fetchone(), table
        before = here.execute("SELECT epoch FROM records_counter").fetchone()
        after = there.execute("SELECT epoch FROM records_counter").fetchone()
        assert before is not None
        assert after is not None
        assert after[0] > before[0]
        here.execute("UPDATE records_counter SET epoch = %s", after)
    answer = records.get(f"changes?cursor={cursor}")
    assert (answer.status_code, answer.json()["type"]) == (410, "/problems/cursor-expired")


def test_restoring_over_records_is_refused(records: DeviceClient, tmp_path: Path) -> None:
    file = tmp_path / "kennel.backup"
    assert manage("backup", str(file)).returncode == 0
    refused = manage("restore", str(file))
    assert refused.returncode != 0
    assert "holds records" in refused.stderr
    assert len(records.get("weighings").json()["results"]) == 7


def test_one_changed_byte_is_noticed(records: DeviceClient, empty: str, tmp_path: Path) -> None:
    file = tmp_path / "kennel.backup"
    assert manage("backup", str(file)).returncode == 0
    body = bytearray(file.read_bytes())
    body[len(body) // 2] ^= 1
    file.write_bytes(body)
    assert "a byte has changed" in manage("verify", str(file)).stderr
    assert manage("restore", str(file), OWNER_DATABASE_URL=empty).returncode != 0


def test_a_cut_off_file_is_noticed(records: DeviceClient, tmp_path: Path) -> None:
    file = tmp_path / "kennel.backup"
    assert manage("backup", str(file)).returncode == 0
    file.write_bytes(file.read_bytes()[:-40_000])
    assert manage("verify", str(file)).returncode != 0


def test_the_app_role_cannot_make_a_backup(records: DeviceClient, tmp_path: Path) -> None:
    refused = manage("backup", str(tmp_path / "kennel.backup"), role="app")
    assert refused.returncode != 0
    assert "owner role" in refused.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_dump_by_the_app_role_fails_instead_of_coming_out_empty(
    records: DeviceClient, tmp_path: Path
) -> None:
    url = urlsplit(os.environ["DATABASE_URL"])
    program = Path(os.environ.get("POSTGRES_PROGRAMS", "")) / "pg_dump"
    done = subprocess.run(
        [str(program), "--table=litters_weighing", f"--file={tmp_path / 'dump'}", urlunsplit(url)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode != 0
    assert "pg_dump: error" in done.stderr


def test_records_copied_by_hand_into_another_cluster_are_not_served_until_adopted(
    records: DeviceClient, owner: psycopg.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kennel.records import door

    owner.execute("UPDATE upkeep_installation SET system_identifier = 1")
    monkeypatch.setattr(door, "_cluster_is_ours", False)
    refused = records.get("weighings")
    assert (refused.status_code, refused.json()["type"]) == (503, "/problems/unavailable")
    assert records.http.get("/readyz").status_code == 503
    assert manage("restore", "--adopt").returncode == 0
    assert records.get("weighings").status_code == 200
    assert records.http.get("/readyz").status_code == 200
