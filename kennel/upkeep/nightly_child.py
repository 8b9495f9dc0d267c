"""Runs the nightly backup as the owner in a child process: the worker itself is not the owner."""

import os
import subprocess
import sys
from datetime import datetime, timedelta

import structlog
from django.conf import settings

from kennel.upkeep import backups

log = structlog.get_logger(__name__)


def run(at: datetime) -> bool:
    """Make the backup when the newest is older than 20 hours; returns whether one was made."""
    last = backups.newest()
    if last is not None and at - last < timedelta(hours=20):
        return False
    done = subprocess.run(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "backup_nightly"],
        env={**os.environ, "DB_ROLE": "owner"},
        capture_output=True,
        text=True,
        check=False,
        timeout=3600,
    )
    if done.returncode:
        log.error("nightly backup failed", said=done.stderr.strip()[-500:])
    return done.returncode == 0
