"""manage.py verify FILE"""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from kennel.upkeep import backups
from kennel.upkeep.archive import Damaged


class Command(BaseCommand):
    help = "Check a backup file byte by byte and row by row; the database is not touched."

    def add_arguments(self, parser: Any) -> None:
        """FILE."""
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        """Check it."""
        try:
            manifest = backups.backup_verify(file)
        except Damaged as error:
            raise CommandError(str(error)) from error
        rows = sum(rows for rows, _ in manifest.tables.values())
        self.stdout.write(
            f"{file}: whole; {rows} rows of {len(manifest.tables)} tables, made {manifest.made_at}."
        )
