"""The one test database: made and migrated by the owner role, used by the app role, emptied by TRUNCATE.

Nothing is wrapped in a transaction: a transaction-local kennel setting survives a savepoint, so wrapped tests would
hide exactly the mistakes these tests are for.
"""

import contextlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import psycopg
import pytest
import redis

from tests.environment import DATABASE

# A loaded machine is slow, not wrong.
hypothesis.settings.register_profile("shared", deadline=None)
hypothesis.settings.load_profile("shared")
ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def database() -> Iterator[str]:
    """Make and migrate the test database once; gives the owner's URL."""
    server = os.environ["OWNER_SERVER_URL"]
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{DATABASE}" WITH (FORCE)')
        connection.execute(f'CREATE DATABASE "{DATABASE}"')
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"],
        cwd=ROOT,
        env={**os.environ, "DB_ROLE": "owner"},
        check=True,
    )
    yield os.environ["OWNER_DATABASE_URL"]
    from django.db import connections

    connections.close_all()
    with (
        psycopg.connect(server, autocommit=True) as connection,
        contextlib.suppress(psycopg.errors.ObjectInUse),
    ):
        # A child of a test may still hold a connection; the next run, or the end of the cluster, tidies up.
        connection.execute(f'DROP DATABASE IF EXISTS "{DATABASE}"')


@pytest.fixture(scope="session")
def _owner(database: str) -> Iterator[psycopg.Connection]:
    with psycopg.connect(database, autocommit=True) as connection:
        yield connection


@pytest.fixture(scope="session")
def _truncate(_owner: psycopg.Connection) -> str:
    names = _owner.execute(
        "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public' AND tablename NOT IN"
        " ('django_migrations', 'django_content_type', 'auth_permission', 'upkeep_installation')"
    ).fetchall()
    return f"TRUNCATE {', '.join(name for (name,) in names)} RESTART IDENTITY CASCADE"


@pytest.fixture
def db(_owner: psycopg.Connection, _truncate: str, django_db_blocker: Any) -> Iterator[None]:
    """A clean database for one test, under the app role, nothing wrapped."""
    from django.core.cache import cache
    from django.db import connections

    redis.Redis.from_url(os.environ["REDIS_URL"]).flushdb()
    cache.clear()
    with django_db_blocker.unblock():
        yield
        connections.close_all()
    _owner.execute(_truncate)


@pytest.fixture
def owner(_owner: psycopg.Connection, db: None) -> psycopg.Connection:
    """A connection of the owner role, which sees all kennels."""
    return _owner
