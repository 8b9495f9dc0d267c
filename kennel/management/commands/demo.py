"""manage.py demo"""

import json
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from kennel import demo


class Command(BaseCommand):
    help = "Make the demo kennel, or find it; the last line of output is JSON with its sign-ins and device token."

    def handle(self, *args: Any, **options: Any) -> None:
        """Fill it."""
        self.stdout.write(json.dumps(demo.fill(timezone.now())))
