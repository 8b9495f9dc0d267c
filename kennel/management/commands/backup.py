"""manage.py backup FILE"""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from kennel.upkeep import backups, database_dump
from kennel.upkeep.archive import Damaged


class Command(BaseCommand):
    help = "Write one backup file (owner role): all records, with counts and hashes to check them by."

    def add_arguments(self, parser: Any) -> None:
        """FILE."""
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        """Make it, or say loudly why not."""
        try:
            manifest = backups.backup_make(file, at=timezone.now())
        except (database_dump.NotTheOwner, database_dump.CommandFailed, Damaged, OSError) as error:
            raise CommandError(f"No backup was written: {error}") from error
        rows = sum(rows for rows, _ in manifest.tables.values())
        self.stdout.write(
            f"{file}: {rows} rows of {len(manifest.tables)} tables, {file.stat().st_size} bytes."
        )
