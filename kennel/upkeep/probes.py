"""Is this process alive, can it answer, is the whole server well?"""

import shutil
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.cache import cache, caches
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from kennel.duties.selectors import tick_age
from kennel.records.door import KennelHere
from kennel.upkeep import backups, installation
from kennel.web.banners import Banner

TICK_OLD_S = 60.0
DISK_LEAST = 0.10
_BEGAN_S = time.monotonic()


@dataclass(frozen=True)
class Finding:
    """One checked thing: its name, whether it is well, and what was seen."""

    name: str
    is_well: bool
    seen: str


def ready() -> Finding:
    """Red only when this process cannot answer: database away, migrations missing, records copied by hand."""
    try:
        pending = MigrationExecutor(connection).migration_plan(
            MigrationExecutor(connection).loader.graph.leaf_nodes()
        )
        if pending:
            return Finding("ready", False, f"{len(pending)} migrations are missing")
        if not installation.is_ours():
            return Finding("ready", False, "the records were copied here by hand; run restore --adopt")
    except DatabaseError:
        return Finding("ready", False, "the database does not answer")
    return Finding("ready", True, "ready")


def findings(now: datetime) -> list[Finding]:
    """Everything a monitor should ring about."""
    return [_database(), _ticks(now), _disk(), _valkey(), _backup(now)]


def _database() -> Finding:
    return Finding("database", (found := ready()).is_well, found.seen)


def _ticks(now: datetime) -> Finding:
    try:
        age = tick_age(now)
    except DatabaseError:
        return Finding("reminders", False, "unknown: the database does not answer")
    if age is None:
        return Finding("reminders", False, "have not run yet")
    return Finding("reminders", age <= TICK_OLD_S, f"last ran {age:.0f} s ago")


def _disk() -> Finding:
    usage = shutil.disk_usage(_existing(Path(settings.STATE_DIR)))
    share = usage.free / usage.total
    return Finding("disk", share > DISK_LEAST, f"{share:.0%} free")


def _existing(path: Path) -> Path:
    while not path.exists():
        path = path.parent
    return path


def _valkey() -> Finding:
    well = bool(caches["default"].is_connected())  # type: ignore[attr-defined]  # our own FallbackCache
    return Finding(
        "valkey", well, "answers" if well else "does not answer; counters are local, reminders late"
    )


def _backup(now: datetime) -> Finding:
    last = backups.newest()
    if last is None:
        return Finding("backup", _is_new(now), "there is none yet; the first is made in the coming night")
    return Finding(
        "backup", now - last < backups.OLD_AFTER, f"made {(now - last).total_seconds() / 3600:.0f} h ago"
    )


def _is_new(now: datetime) -> bool:
    """Whether this installation is younger than a backup may be."""
    try:
        began_at = installation.began_at()
    except DatabaseError:
        return False
    return began_at is not None and now - began_at < backups.OLD_AFTER


def banner(here: KennelHere | None) -> Banner | None:
    """The sentence on every page while reminders stand still; asked at most every five seconds a process."""
    if here is None:
        return None
    told = cache.get("banner:reminders")
    if told is None:
        # A process that has just begun gives the first tick its time before it frightens people.
        told = _ticks(timezone.now()).is_well or time.monotonic() - _BEGAN_S < TICK_OLD_S
        cache.set("banner:reminders", told, 5)
    return None if told else Banner("Reminders are not running. Watch the clock yourself.", "danger")
