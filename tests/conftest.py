"""The test database (one for each worker): made and migrated by the owner role, used by the app role, emptied by it.

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

from tests.cleaning import Cleaner, drop_database
from tests.environment import DATABASE

# A loaded machine is slow, not wrong.
hypothesis.settings.register_profile("shared", deadline=None)
hypothesis.settings.load_profile("shared")
ROOT = Path(__file__).resolve().parent.parent
# Whole processes, ports, browsers and clocks: these run one after the other, in one worker of a parallel run.
ALONE = (
    "tests/deploy/",
    "tests/e2e/",
    "tests/faults/",
    "tests/web/",
    "tests/kennel/duties/test_processes.py",
)
# Nothing is shared between the tests of these files, so any worker may take the next one.
ONE_BY_ONE = ("tests/tenancy/test_matrix.py",)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say which tests stay together in a parallel run (`-n 2 --dist loadgroup`): those of a file, mostly."""
    for item in items:
        file = item.nodeid.partition("::")[0]
        if file.startswith(ALONE) or item.get_closest_marker("browser") or item.get_closest_marker("e2e"):
            item.add_marker(pytest.mark.xdist_group("alone"))
        elif file not in ONE_BY_ONE:
            item.add_marker(pytest.mark.xdist_group(file))


@pytest.fixture(autouse=True, scope="session")
def _one_middleware_chain() -> Iterator[None]:
    """Test clients share the middleware chain, as requests to a server process do.

    Each client would look for all static files again.  A test that overrides settings gets a chain of its own.
    """
    from django.conf import UserSettingsHolder, settings
    from django.test.client import ClientHandler

    load = ClientHandler.load_middleware
    loaded: dict[str, Any] = {}

    def load_once(self: ClientHandler, is_async: bool = False) -> None:
        if isinstance(vars(settings)["_wrapped"], UserSettingsHolder):
            load(self, is_async)
            return
        if not loaded:
            load(self, is_async)
            loaded.update(vars(self))
        for name, value in loaded.items():
            if name.endswith(("_middleware", "_middleware_chain")):
                setattr(self, name, value)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ClientHandler, "load_middleware", load_once)
        yield


@pytest.fixture(scope="session")
def database() -> Iterator[str]:
    """Make and migrate the test database once; gives the owner's URL."""
    server = os.environ["OWNER_SERVER_URL"]
    with psycopg.connect(server, autocommit=True) as connection:
        drop_database(connection, DATABASE)
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
def _cleaner(database: str) -> Iterator[Cleaner]:
    with psycopg.connect(database, autocommit=True) as connection:
        yield Cleaner(connection)


@pytest.fixture
def db(_cleaner: Cleaner, django_db_blocker: Any) -> Iterator[None]:
    """A clean database for one test, under the app role, nothing wrapped."""
    from django.core.cache import cache
    from django.db import connections

    redis.Redis.from_url(os.environ["REDIS_URL"]).flushdb()
    cache.clear()
    with django_db_blocker.unblock():
        yield
        connections.close_all()
    _cleaner.clean()


@pytest.fixture
def owner(_owner: psycopg.Connection, db: None) -> psycopg.Connection:
    """A connection of the owner role, which sees all kennels."""
    return _owner
