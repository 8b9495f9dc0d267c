"""The built-in PostgreSQL: roles, settings, stopping, and getting up again after a kill."""

import os
import signal
import stat
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import psycopg
import pytest

from deploy.children import leftovers
from deploy.postgres import APP, JOBS, OWNER, SUPERUSER, Cluster, PostgresFailed


@pytest.fixture
def cluster(place: Path) -> Iterator[Cluster]:
    """A throw-away server."""
    with Cluster(place / "postgres", durable=False) as started:
        yield started


def ask(cluster: Cluster, role: str, question: str) -> Any:
    """First column of the first row."""
    with psycopg.connect(cluster.url(role)) as connection:
        row = connection.execute(question).fetchone()
    assert row is not None
    return row[0]


def test_the_three_roles_have_exactly_the_rights_they_need(cluster: Cluster) -> None:
    with psycopg.connect(cluster.url(OWNER)) as connection:
        rights = connection.execute(
            "SELECT rolname, rolsuper, rolbypassrls, rolcreatedb, rolcreaterole, rolcanlogin FROM pg_roles"
            " WHERE rolname LIKE 'kennel%' ORDER BY 1"
        ).fetchall()
    assert rights == [
        (APP, False, False, False, False, True),
        (JOBS, False, False, False, False, True),
        (OWNER, False, True, False, False, True),
    ]
    assert (
        ask(cluster, OWNER, "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = 'kennel'")
        == OWNER
    )


def test_only_a_password_opens_the_door_and_it_is_stored_as_scram(cluster: Cluster) -> None:
    wrong = cluster.url(APP).replace(f"{APP}:", f"{APP}:wrong")
    with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
        psycopg.connect(wrong)
    verifiers = "SELECT bool_and(rolpassword LIKE 'SCRAM-SHA-256$%') FROM pg_authid WHERE rolcanlogin"
    assert ask(cluster, SUPERUSER, verifiers) is True


def test_it_is_a_utf8_server_in_utc_that_listens_on_this_machine_only(cluster: Cluster) -> None:
    assert ask(cluster, APP, "SHOW server_encoding") == "UTF8"
    assert ask(cluster, APP, "SHOW timezone") == "UTC"
    assert ask(cluster, APP, "SHOW listen_addresses") == "127.0.0.1"
    assert ask(cluster, APP, "SELECT lower('ÄÖÅ')") == "äöå"
    assert int(ask(cluster, APP, "SHOW server_version_num")) >= 180000


def test_the_extensions_the_project_may_use_can_be_made_by_the_owner(cluster: Cluster) -> None:
    with psycopg.connect(cluster.url(OWNER)) as connection:
        for extension in ("btree_gist", "pg_trgm", "citext", "unaccent"):
            connection.execute(f"CREATE EXTENSION {extension}")
    assert ask(cluster, OWNER, "SELECT count(*) FROM pg_extension WHERE extname <> 'plpgsql'") == 4


def test_the_owner_makes_databases_only_where_tests_need_it(place: Path) -> None:
    with Cluster(place / "postgres", durable=False, can_create_databases=True) as cluster:
        with psycopg.connect(cluster.url(OWNER), autocommit=True) as connection:
            connection.execute("CREATE DATABASE test_kennel")
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            psycopg.connect(cluster.url(APP), autocommit=True).execute("CREATE DATABASE another")


def test_flushing_to_disk_is_on_unless_the_server_is_thrown_away(place: Path) -> None:
    with Cluster(place / "kept" / "postgres") as kept:
        assert ask(kept, APP, "SHOW fsync") == "on"
        assert ask(kept, APP, "SHOW synchronous_commit") == "on"
        assert ask(kept, APP, "SHOW full_page_writes") == "on"
    with Cluster(place / "thrown" / "postgres", durable=False) as thrown:
        assert ask(thrown, APP, "SHOW fsync") == "off"


def test_a_failing_statement_leaves_no_values_in_the_log(place: Path) -> None:
    with Cluster(place / "postgres", durable=False) as cluster:
        with psycopg.connect(cluster.url(OWNER)) as connection:
            connection.execute("CREATE TABLE contact (email text UNIQUE)")
            connection.execute("INSERT INTO contact VALUES ('oona@hollin-bank.example')")
            with pytest.raises(psycopg.errors.UniqueViolation):
                connection.execute("INSERT INTO contact VALUES ('oona@hollin-bank.example')")
        cluster.stop()
        log = cluster.log.read_text()
    assert "duplicate key" in log
    assert "oona" not in log


def test_the_password_file_of_the_first_start_is_gone_and_the_data_is_closed_to_others(place: Path) -> None:
    with Cluster(place / "postgres", durable=False) as cluster:
        assert sorted(entry.name for entry in cluster.folder.iterdir()) == ["data"]
        assert stat.S_IMODE(cluster.folder.stat().st_mode) == 0o700


def restarted(cluster: Cluster) -> None:
    """Start the same folder again and wait."""
    cluster.start()
    cluster.wait_ready()
    cluster.ensure_database()


def test_rows_written_before_a_clean_stop_are_there_afterwards(place: Path) -> None:
    cluster = Cluster(place / "postgres")
    with cluster, psycopg.connect(cluster.url(OWNER)) as connection:
        connection.execute("CREATE TABLE weighing AS SELECT 412 AS weight_g")
    with cluster:
        assert ask(cluster, OWNER, "SELECT weight_g FROM weighing") == 412


def test_it_gets_up_after_its_main_process_was_killed_with_a_query_running(place: Path) -> None:
    with Cluster(place / "postgres") as cluster:
        with psycopg.connect(cluster.url(OWNER)) as connection:
            connection.execute("CREATE TABLE weighing AS SELECT 412 AS weight_g")
        busy = psycopg.connect(cluster.url(APP))
        # A query that looks at no signal for long: the process stays behind when its parent is killed.
        busy.pgconn.send_query(b"SELECT count(*) FROM generate_series(1, 400000000)")
        time.sleep(0.3)
        assert cluster.pid is not None
        os.kill(cluster.pid, signal.SIGKILL)
        while cluster.running():
            time.sleep(0.01)
        restarted(cluster)
        busy.close()
        assert ask(cluster, OWNER, "SELECT weight_g FROM weighing") == 412


def test_a_stale_pid_file_whose_number_belongs_to_another_process_is_no_obstacle(place: Path) -> None:
    """After a power cut the number may be anybody's; here it is this test's own."""
    cluster = Cluster(place / "postgres")
    with cluster:
        pid_file = (cluster.data / "postmaster.pid").read_text().splitlines()
    stale = cluster.data / "postmaster.pid"
    stale.write_text("\n".join([str(os.getpid()), *pid_file[1:]]))
    os.chown(stale, cluster.data.stat().st_uid, cluster.data.stat().st_gid)
    with cluster:
        assert ask(cluster, OWNER, "SELECT 1") == 1
    assert psutil.Process().is_running()


def test_an_earlier_server_of_the_same_folder_is_stopped_first(place: Path) -> None:
    first = Cluster(place / "postgres", password=lambda role: f"the-word-of-{role}")
    second = Cluster(place / "postgres", password=lambda role: f"the-word-of-{role}")
    with first:
        earlier = first.pid
        with second:
            assert not psutil.pid_exists(earlier or 0) or not first.running()
            assert ask(second, OWNER, "SELECT 1") == 1
            assert second.pid != earlier
    assert leftovers(place, [second.data]) == []


def test_a_first_start_cut_short_begins_anew(place: Path) -> None:
    cluster = Cluster(place / "postgres", durable=False)
    (place / "postgres" / "data.new").mkdir(parents=True)
    (place / "postgres" / "data.new" / "half").write_text("")
    with cluster:
        assert ask(cluster, OWNER, "SELECT 1") == 1
        assert not (place / "postgres" / "data.new").exists()


def test_data_of_another_release_is_refused_with_the_remedy(place: Path) -> None:
    cluster = Cluster(place / "postgres", durable=False)
    with cluster:
        pass
    (cluster.data / "PG_VERSION").write_text("17\n")
    with pytest.raises(PostgresFailed, match=r"of PostgreSQL 17[\s\S]*restore"):
        cluster.start()


def test_the_reason_is_shown_when_it_cannot_start(place: Path) -> None:
    cluster = Cluster(place / "postgres", durable=False)
    with cluster:
        pass
    with (cluster.data / "postgresql.conf").open("a") as settings:
        settings.write("shared_buffers = 'much'\n")
    cluster.start()
    with pytest.raises(PostgresFailed, match="shared_buffers"):
        cluster.wait_ready()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root drops to another account")
def test_root_does_not_run_the_server_as_root(cluster: Cluster) -> None:
    process = psutil.Process(cluster.pid)
    assert process.uids().real != 0
    assert process.uids().saved != 0
    assert process.gids().effective != 0


@pytest.mark.skipif(os.geteuid() != 0, reason="only root drops to another account")
def test_programs_in_a_folder_closed_to_the_account_are_copied(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("deploy.binaries.can_reach", lambda path, account: False)
    with Cluster(place / "postgres", durable=False) as cluster:
        assert cluster.programs.is_relative_to(place / "programs")
        assert ask(cluster, APP, "SELECT 1") == 1
