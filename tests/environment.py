"""Loaded before Django's settings (`-p tests.environment`): points them at the throw-away test database."""

import os
from urllib.parse import urlsplit, urlunsplit

import pytest

WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")
DATABASE = f"kennel_test{'_' + WORKER if WORKER else ''}"


def _with_database(url: str, name: str) -> str:
    return urlunsplit(urlsplit(url)._replace(path=f"/{name}"))


if "OWNER_DATABASE_URL" not in os.environ:
    raise pytest.UsageError(
        "Run the tests with ./deploy/test: it starts PostgreSQL and Valkey and says where."
    )
os.environ.setdefault("OWNER_SERVER_URL", os.environ["OWNER_DATABASE_URL"])
for _name in ("OWNER_DATABASE_URL", "DATABASE_URL", "JOBS_DATABASE_URL"):
    os.environ[_name] = _with_database(os.environ[_name], DATABASE)
os.environ["DB_ROLE"] = "app"
os.environ["DB_POOLED"] = "no"
os.environ.setdefault("QUOTA_PER_MINUTE", "1000000")
