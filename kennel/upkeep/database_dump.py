"""Dump and load through PostgreSQL's own programs, counted against the same snapshot."""

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection

from kennel.upkeep.archive import Damaged

_COPY = re.compile(r'^COPY public\."?([a-z0-9_]+)"? ')


class NotTheOwner(Exception):
    """A role under row-level security would dump nothing and say nothing."""


class CommandFailed(Exception):
    """pg_dump or pg_restore ended with an error; the text is its own."""


def program(name: str) -> str:
    """Path of pg_dump or pg_restore: those of the database's own release when the start command names them."""
    if folder := os.environ.get("POSTGRES_PROGRAMS"):
        return str(Path(folder) / name)
    found = shutil.which(name)
    if found is None:
        raise CommandFailed(f"{name} was not found; set POSTGRES_PROGRAMS to the folder that holds it.")
    return found


def _connect() -> "psycopg.Connection[Any]":
    values = connection.get_connection_params()
    keep = {k: v for k, v in values.items() if k in {"dbname", "user", "password", "host", "port"}}
    return psycopg.connect(**keep)


def _environment() -> dict[str, str]:
    values = connection.settings_dict
    return {
        **os.environ,
        "PGHOST": str(values["HOST"]),
        "PGPORT": str(values["PORT"]),
        "PGUSER": str(values["USER"]),
        "PGPASSWORD": str(values["PASSWORD"]),
        "PGDATABASE": str(values["NAME"]),
        "PGTZ": "UTC",
    }


def require_owner() -> None:
    """Raises NotTheOwner unless the role sees every row."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        if not cursor.fetchone()[0]:
            raise NotTheOwner("Backups are made by the owner role; this role sees one kennel at a time.")


def _summary(cursor: "psycopg.Cursor[Any]") -> dict[str, list[Any]]:
    cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY tablename")
    tables = [row[0] for row in cursor.fetchall()]
    summary = {}
    for table in tables:
        cursor.execute(
            f'SELECT count(*), COALESCE(sum(hashtextextended(t::text, 0)), 0)::text FROM public."{table}" t'  # noqa: S608
        )
        rows, digest = cursor.fetchone() or (0, "0")
        summary[table] = [rows, digest]
    return summary


def table_summary() -> dict[str, list[Any]]:
    """Rows and an order-free hash of every table, as one consistent moment."""
    with _connect() as opened, opened.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SET LOCAL timezone = 'UTC'")
        return _summary(cursor)


@contextmanager
def dumped(folder: Path) -> Iterator[tuple[Path, dict[str, list[Any]]]]:
    """Dump into folder; gives the file and what the same snapshot holds.  Raises CommandFailed and Damaged."""
    target = folder / "database.dump"
    with _connect() as opened, opened.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SET LOCAL timezone = 'UTC'")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = (cursor.fetchone() or [""])[0]
        _run(
            [
                program("pg_dump"),
                "--format=custom",
                "--no-owner",
                f"--snapshot={snapshot}",
                f"--file={target}",
            ]
        )
        summary = _summary(cursor)
    counted = rows_in_dump(target)
    for table, (rows, _) in summary.items():
        if counted.get(table, 0) != rows:
            raise Damaged(f"{table}: {counted.get(table, 0)} of {rows} rows were dumped; nothing was kept.")
    yield target, summary


def rows_in_dump(dump: Path) -> dict[str, int]:
    """Rows of each table, counted in the dump itself.  Raises CommandFailed for a dump that cannot be read."""
    process = subprocess.Popen(
        [program("pg_restore"), "--data-only", "--file=-", str(dump)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    counts: dict[str, int] = {}
    table = None
    for line in process.stdout:
        if table is None:
            if match := _COPY.match(line):
                table = match[1]
                counts[table] = 0
        elif line == "\\.\n":
            table = None
        else:
            counts[table] += 1
    _, complaint = process.communicate()
    if process.returncode:
        raise CommandFailed(complaint.strip()[-500:])
    return counts


def load(dump: Path) -> None:
    """Load a dump into the empty database we are connected to, in one transaction.  Raises CommandFailed."""
    connection.close()
    _run(
        [
            program("pg_restore"),
            "--no-owner",
            "--single-transaction",
            "--exit-on-error",
            "--dbname=",
            str(dump),
        ]
    )


def _run(words: list[str]) -> None:
    environment = _environment()
    words = [f"--dbname={environment['PGDATABASE']}" if w == "--dbname=" else w for w in words]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise CommandFailed(done.stderr.strip()[-800:])
