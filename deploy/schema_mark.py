"""Tells, without loading Django, whether a database already has every migration of this code.

After a successful preparation a mark is kept: of the migrations in the code, and of those the database says it has.
While both are still the same there is nothing to migrate, and the web server may load beside the preparation
instead of after it.  A restored or exchanged database, or new code, changes one of the two.
"""

import hashlib
import json
from pathlib import Path

import psycopg

from deploy.environment import REPOSITORY
from deploy.state import read_json, write_private

NAME = "schema-mark.json"


def code_mark(repository: Path = REPOSITORY) -> str:
    """Digest of our migrations and of the lock, which decides about those of other packages."""
    digest = hashlib.sha256()
    ours = sorted(path for path in repository.glob("*/**/migrations/*.py") if ".venv" not in path.parts)
    for path in [repository / "deploy" / "requirements.txt", *ours]:
        digest.update(str(path.relative_to(repository)).encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def database_mark(owner_url: str) -> str | None:
    """Digest of the migrations the database has, or None for an empty one."""
    with psycopg.connect(owner_url) as connection:
        try:
            rows = connection.execute("SELECT app, name FROM django_migrations ORDER BY app, name").fetchall()
        except psycopg.errors.UndefinedTable:
            return None
    return hashlib.sha256("\n".join(f"{app}.{name}" for app, name in rows).encode()).hexdigest()


def is_current(folder: Path, owner_url: str) -> bool:
    """Whether nothing changed since the last successful preparation."""
    known = read_json(folder / NAME)
    return known is not None and known == _marks(owner_url)


def remember(folder: Path, owner_url: str) -> None:
    """Keep the marks after a successful preparation."""
    write_private(folder / NAME, json.dumps(_marks(owner_url)))


def _marks(owner_url: str) -> dict[str, str | None]:
    return {"code": code_mark(), "database": database_mark(owner_url)}
