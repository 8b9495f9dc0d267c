"""manage.py backup_nightly: what the worker runs each night."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from kennel.upkeep import backups, database_dump
from kennel.upkeep.archive import Damaged


class Command(BaseCommand):
    help = "Write tonight's backup into the state folder when the newest is older than 20 hours; keep 14."

    def handle(self, *args: Any, **options: Any) -> None:
        """Make it, or say loudly why not."""
        try:
            made = backups.nightly(timezone.now())
        except (database_dump.NotTheOwner, database_dump.CommandFailed, Damaged, OSError) as error:
            raise CommandError(f"No backup was written: {error}") from error
        self.stdout.write(f"{made}" if made else "The newest backup is young enough.")
