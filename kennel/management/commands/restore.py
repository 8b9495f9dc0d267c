"""manage.py restore FILE, or restore --adopt after a copy made by hand."""

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from kennel.upkeep import backups, database_dump, installation
from kennel.upkeep.archive import Damaged


class Command(BaseCommand):
    help = "Fill an empty database from a backup (owner role), then bring it to this release."

    def add_arguments(self, parser: Any) -> None:
        """FILE or --adopt."""
        parser.add_argument("file", type=Path, nargs="?")
        parser.add_argument(
            "--adopt", action="store_true", help="accept a database that was copied here by hand"
        )

    def handle(self, *args: Any, file: Path | None, adopt: bool, **options: Any) -> None:
        """Restore and migrate, or adopt."""
        if adopt == (file is not None):
            raise CommandError("Give a FILE, or --adopt alone.")
        if file is None:
            kennels = installation.adopt()
            self.stdout.write(
                f"Adopted: {kennels} kennels have a new epoch; devices will fetch everything anew."
            )
            return
        try:
            done = backups.backup_restore(file, at=timezone.now())
        except (backups.NotEmpty, Damaged, database_dump.NotTheOwner, database_dump.CommandFailed) as error:
            raise CommandError(f"Nothing was restored: {error}") from error
        call_command("migrate", interactive=False, verbosity=0)
        self.stdout.write(
            f"Restored {done.rows} rows of {done.kennels} kennels; erased again: {done.erasures_applied};"
            f" reminders from before kept back: {done.suppressed}."
        )
