"""Make, verify and restore backups; keep the nightly ones."""

import shutil
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import connection

from kennel.duties.services.restoring import reminders_suppress
from kennel.upkeep import database_dump, erasures, installation
from kennel.upkeep.archive import FORMAT, Damaged, Manifest, pack, sha256_of, unpack

KEPT = 14
OLD_AFTER = timedelta(hours=36)


class NotEmpty(Exception):
    """Restoring would overwrite records."""


@dataclass(frozen=True)
class Restored:
    """What a restore did."""

    rows: int
    kennels: int
    erasures_applied: int
    suppressed: int


def folder() -> Path:
    """Where the nightly backups lie."""
    return Path(settings.STATE_DIR) / "backups"


def backup_make(target: Path, *, at: datetime) -> Manifest:
    """Write one backup file.  Raises NotTheOwner, CommandFailed, Damaged or OSError; no file is left then."""
    database_dump.require_owner()
    if target.exists():
        raise FileExistsError(f"{target} is there already.")
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # Beside the target: a full disk is noticed here, and the rename stays on one file system.
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=target.parent) as place:
        with database_dump.dumped(Path(place)) as (dump, summary), dump.open("rb") as stream:
            manifest = Manifest(
                format=FORMAT,
                made_at=at.astimezone(UTC).isoformat(),
                release=str(settings.SPECTACULAR_SETTINGS["VERSION"]),
                migrations=_migrations(),
                postgres=_postgres(),
                tables=summary,
                files={"database.dump": sha256_of(stream)},
            )
        pack(target, manifest, dump)
    return manifest


def backup_verify(source: Path) -> Manifest:
    """Check a backup byte by byte and row by row, without touching the database.  Raises Damaged."""
    with tempfile.TemporaryDirectory(prefix="verify-") as place:
        manifest = unpack(source, Path(place))
        try:
            counted = database_dump.rows_in_dump(Path(place) / "database.dump")
        except database_dump.CommandFailed as error:
            raise Damaged(f"The dump cannot be read: {error}") from error
        for table, (rows, _) in manifest.tables.items():
            if counted.get(table, 0) != rows:
                raise Damaged(f"{table} holds {counted.get(table, 0)} rows, not {rows}.")
    return manifest


def backup_restore(source: Path, *, at: datetime) -> Restored:
    """Fill an empty database from a backup: verified first, hashes compared after, new epochs, erasures re-applied."""
    database_dump.require_owner()
    manifest = backup_verify(source)
    _require_empty()
    with tempfile.TemporaryDirectory(prefix="restore-") as place:
        unpack(source, Path(place))
        with connection.cursor() as cursor:
            cursor.execute("DROP SCHEMA IF EXISTS public CASCADE")
            cursor.execute("CREATE SCHEMA public AUTHORIZATION pg_database_owner")
            cursor.execute("GRANT USAGE ON SCHEMA public TO PUBLIC")
        database_dump.load(Path(place) / "database.dump")
    if (found := database_dump.table_summary()) != manifest.tables:
        wrong = sorted(t for t in manifest.tables if found.get(t) != manifest.tables[t])
        raise Damaged(f"After loading, these tables differ from the backup: {', '.join(wrong)}.")
    kennels = installation.adopt()
    return Restored(
        rows=sum(rows for rows, _ in manifest.tables.values()),
        kennels=kennels,
        erasures_applied=erasures.apply_again(),
        suppressed=reminders_suppress(at),
    )


def _require_empty() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT to_regclass('public.people_kennel') IS NOT NULL")
        if cursor.fetchone()[0]:
            cursor.execute(
                "SELECT (SELECT count(*) FROM people_kennel) + (SELECT count(*) FROM people_carer)"
            )
            if cursor.fetchone()[0]:
                raise NotEmpty("This database holds records. Restore into an empty one.")


def _migrations() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT app || '.' || name FROM django_migrations ORDER BY 1")
        return [row[0] for row in cursor.fetchall()]


def _postgres() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version")
        return str(cursor.fetchone()[0])


def newest() -> datetime | None:
    """When the newest nightly backup was finished."""
    made = [path.stat().st_mtime for path in folder().glob("kennel-*.backup")] if folder().is_dir() else []
    return datetime.fromtimestamp(max(made), UTC) if made else None


def nightly(at: datetime) -> Path | None:
    """Make tonight's backup unless the newest is younger than 20 hours; keep 14, copy to the off-box folder."""
    last = newest()
    if last is not None and at - last < timedelta(hours=20):
        return None
    target = folder() / f"kennel-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}.backup"
    backup_make(target, at=at)
    if elsewhere := settings.BACKUP_COPY_TO:
        Path(elsewhere).mkdir(parents=True, exist_ok=True)
        shutil.copy2(target, Path(elsewhere) / target.name)
        _keep_newest(Path(elsewhere))
    _keep_newest(folder())
    return target


def _keep_newest(place: Path) -> None:
    for old in sorted(place.glob("kennel-*.backup"))[:-KEPT]:
        old.unlink()
