"""Loaded before Django's settings (`-p tests.environment`): points them at the throw-away test database.

Each worker of a parallel run has a database, a Valkey number and a state folder of its own.
"""

import os
import re
from pathlib import Path
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
if _number := re.fullmatch(r"gw(\d+)", WORKER):
    # Number 0 is the one that a run without workers uses.
    os.environ["REDIS_URL"] = _with_database(os.environ["REDIS_URL"], str(int(_number[1]) + 1))
    os.environ["STATE_DIR"] = str(Path(os.environ["STATE_DIR"]) / WORKER)
    Path(os.environ["STATE_DIR"]).mkdir(mode=0o700, parents=True, exist_ok=True)
os.environ["DB_ROLE"] = "app"
os.environ["DB_POOLED"] = "no"
os.environ.setdefault("QUOTA_PER_MINUTE", "1000000")
