"""Whether the web may load before the migrations ran: only when there is nothing to migrate."""

from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from deploy import schema_mark
from deploy.postgres import OWNER, Cluster


@pytest.fixture
def migrated(place: Path) -> Iterator[str]:
    """Owner's address of a database that has one migration."""
    with Cluster(place / "postgres", durable=False) as cluster:
        with psycopg.connect(cluster.url(OWNER)) as connection:
            connection.execute("CREATE TABLE django_migrations (app text, name text)")
            connection.execute("INSERT INTO django_migrations VALUES ('litters', '0001_initial')")
        yield cluster.url(OWNER)


def test_a_database_is_current_only_after_a_preparation_and_until_its_migrations_change(
    place: Path, migrated: str
) -> None:
    assert not schema_mark.is_current(place, migrated)
    schema_mark.remember(place, migrated)
    assert schema_mark.is_current(place, migrated)
    with psycopg.connect(migrated) as connection:
        connection.execute("INSERT INTO django_migrations VALUES ('litters', '0002_from_another_backup')")
    assert not schema_mark.is_current(place, migrated)


def test_an_empty_database_is_not_current_after_one_that_was(place: Path, migrated: str) -> None:
    schema_mark.remember(place, migrated)
    with psycopg.connect(migrated) as connection:
        connection.execute("DROP TABLE django_migrations")
    assert schema_mark.database_mark(migrated) is None
    assert not schema_mark.is_current(place, migrated)


def test_new_or_changed_migrations_and_another_lock_change_the_mark_of_the_code(tmp_path: Path) -> None:
    (tmp_path / "deploy").mkdir()
    lock = tmp_path / "deploy" / "requirements.txt"
    lock.write_text("django==5.2.0\n")
    for folder in ("kennel/people", "litters"):
        (tmp_path / folder / "migrations").mkdir(parents=True)
        (tmp_path / folder / "migrations" / "0001_initial.py").write_text("operations = []\n")
    marks = [schema_mark.code_mark(tmp_path)]
    (tmp_path / "litters" / "migrations" / "0002_more.py").write_text("operations = []\n")
    marks.append(schema_mark.code_mark(tmp_path))
    (tmp_path / "kennel" / "people" / "migrations" / "0001_initial.py").write_text("operations = [1]\n")
    marks.append(schema_mark.code_mark(tmp_path))
    lock.write_text("django==5.2.1\n")
    marks.append(schema_mark.code_mark(tmp_path))
    assert len(set(marks)) == 4
    assert schema_mark.code_mark(tmp_path) == marks[-1]
