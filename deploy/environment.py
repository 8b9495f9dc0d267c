"""The contract with `kennel/settings.py`: which variables each part of the server is started with.

    DATABASE_URL, JOBS_DATABASE_URL   roles kennel_app and kennel_jobs: every part
    OWNER_DATABASE_URL                role kennel_owner: only the worker (nightly backup) and commands
    DB_ROLE                           app (web, beat), jobs (worker), owner (commands)
    REDIS_URL  SECRET_KEY_FILE  ORIGIN  STATE_DIR  EMAIL_URL (absent: no mail)
    POSTGRES_PROGRAMS                 folder of pg_dump and pg_restore of the database's own release
    PYTHONTZPATH=''                   zone rules come from the pinned tzdata package, not from the machine

Variables somebody sets for `./deploy/start` and that are not named here reach every part unchanged.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from deploy.children import MARK

REPOSITORY = Path(__file__).resolve().parent.parent
DATABASE_VARIABLES = ("OWNER_DATABASE_URL", "DATABASE_URL", "JOBS_DATABASE_URL")
NEVER_INHERITED = (
    *DATABASE_VARIABLES,
    "DB_ROLE",
    "DEBUG",
    "DJANGO_SETTINGS_MODULE",
    "PYTHONHOME",
    "MONITOR_URL",
)


class HalfConfigured(Exception):
    """Some but not all addresses of servers of one's own are given."""


@dataclass(frozen=True)
class Addresses:
    """Where the three database roles and Valkey are reached, passwords included."""

    owner: str
    app: str
    jobs: str
    redis: str


def own_databases(given: Mapping[str, str]) -> tuple[str, str, str] | None:
    """Owner, app and jobs address of a database server of one's own, or None.  Raises HalfConfigured."""
    missing = [name for name in DATABASE_VARIABLES if not given.get(name)]
    if len(missing) == len(DATABASE_VARIABLES):
        return None
    if missing:
        raise HalfConfigured(
            f"For a database server of your own all of {', '.join(DATABASE_VARIABLES)} are needed;"
            f" missing: {', '.join(missing)}. The roles: deploy/roles.sql."
        )
    owner, app, jobs = (given[name] for name in DATABASE_VARIABLES)
    return owner, app, jobs


def contract(
    addresses: Addresses,
    *,
    state: Path,
    secret_key: Path,
    origin: str,
    programs: Path,
    email_url: str | None = None,
    inherited: Mapping[str, str] = os.environ,
) -> dict[str, str]:
    """Variables of a command run as the owner; `for_role` takes away what others must not have."""
    variables = {name: value for name, value in inherited.items() if name not in NEVER_INHERITED}
    variables |= {
        "OWNER_DATABASE_URL": addresses.owner,
        "DATABASE_URL": addresses.app,
        "JOBS_DATABASE_URL": addresses.jobs,
        "REDIS_URL": addresses.redis,
        "DB_ROLE": "owner",
        "ORIGIN": origin,
        "STATE_DIR": str(state),
        "POSTGRES_PROGRAMS": str(programs),
        "PYTHONPATH": str(REPOSITORY),
        "PYTHONTZPATH": "",
        "PYTHONUNBUFFERED": "1",
        "TZ": "UTC",
        MARK: str(state),
    }
    if not inherited.get("SECRET_KEY") and not inherited.get("SECRET_KEY_FILE"):
        variables["SECRET_KEY_FILE"] = str(secret_key)
    if email_url:
        variables["EMAIL_URL"] = email_url
    return variables


def for_role(variables: Mapping[str, str], role: str) -> dict[str, str]:
    """The same variables for role app, jobs or owner.  Web and beat never learn the owner's address."""
    chosen = {**variables, "DB_ROLE": role}
    if role == "app":
        del chosen["OWNER_DATABASE_URL"]
    return chosen
