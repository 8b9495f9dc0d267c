"""Explain what was planned, sent, held and missed in one kennel on one day."""

import json
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from kennel.clock.wall_clock import local_day, local_day_bounds, zone_of
from kennel.duties import auditing, selectors
from kennel.records import door


class Command(BaseCommand):
    """Lists every duty of a kennel's day with its messages: to whom, when, what became of them and why."""

    help = "Explain what was planned, sent, held and missed in one kennel on one day."

    def add_arguments(self, parser: CommandParser) -> None:
        """Kennel, day, form of the answer."""
        parser.add_argument("kennel", help="uid of the kennel")
        parser.add_argument("--day", help="local day as YYYY-MM-DD; today without it")
        parser.add_argument("--json", action="store_true", help="one JSON document instead of text")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the audit.  An unknown kennel or a bad day is an error."""
        at = timezone.now()
        try:
            here = selectors.kennel_here(UUID(options["kennel"]))
            day = date.fromisoformat(options["day"]) if options["day"] else None
        except ValueError as error:
            raise CommandError(str(error)) from None
        if here is None:
            raise CommandError("There is no kennel with that uid.")
        day = day or local_day(at, here.zone)
        start, end = local_day_bounds(day, here.zone)
        with door.read(here, door.SERVER, at) as opened:
            found = auditing.audit(opened, start, end)
            ages = selectors.tick_ages(at)
        if options["json"]:
            self.stdout.write(json.dumps({"day": str(day), "ticks": ages, "duties": found}, default=str))
            return
        self.stdout.write(f"{here.name}, {day} ({here.zone}): {len(found)} duties")
        for name, age in ages.items():
            self.stdout.write(f"  tick {name}: {'never ran' if age is None else f'{age:.0f} s ago'}")
        for duty in found:
            for line in auditing.lines(duty, lambda text: _clock(text, here.zone)):
                self.stdout.write(line)


def _clock(text: str | None, zone: str) -> str:
    return "-" if text is None else f"{datetime.fromisoformat(text).astimezone(zone_of(zone)):%d %b %H:%M:%S}"
