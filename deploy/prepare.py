"""Brings the database to this release and, for a trial, fills the demo kennel.  Run as the owner.

    python -m deploy.prepare [--demo] --result FILE

FILE receives the demo's last line of output as JSON: its sign-ins and device token.
"""

import argparse
import io
import json
import os
import time
from pathlib import Path

from deploy.state import write_private

# Waiting for a lock makes everybody behind us wait as well: give way after 2 s and come back.
LOCK_TIMEOUT_MS, TRIES, BETWEEN_S = 2000, 30, 2.0
# One machine migrates at a time when several start on one database; the number means nothing.
MIGRATION_LOCK = 7_305_161


def migrate() -> None:
    """Apply the migrations, one machine at a time.  Raises OperationalError when a lock stays taken."""
    from django.core.management import call_command
    from django.db import OperationalError, connection
    from psycopg.errors import LockNotAvailable

    for attempt in range(1, TRIES + 1):
        try:
            with connection.cursor() as cursor:
                cursor.execute(f"SET lock_timeout = {LOCK_TIMEOUT_MS}")
                cursor.execute("SELECT pg_advisory_lock(%s)", [MIGRATION_LOCK])
            call_command("migrate", interactive=False, verbosity=1)
            return
        except OperationalError as problem:
            if not isinstance(problem.__cause__, LockNotAvailable) or attempt == TRIES:
                raise
            print(f"A lock is taken; trying again in {BETWEEN_S:.0f} s.", flush=True)
            time.sleep(BETWEEN_S)
        finally:
            connection.close()  # lets the advisory lock go


def demo() -> dict[str, object]:
    """Fill or find the demo kennel; returns what its command says last."""
    from django.core.management import call_command

    said = io.StringIO()
    call_command("demo", stdout=said)
    print(said.getvalue(), flush=True)
    result: dict[str, object] = json.loads(said.getvalue().strip().splitlines()[-1])
    return result


def main() -> None:
    """Migrate, then fill the demo when asked."""
    parser = argparse.ArgumentParser(prog="deploy.prepare")
    parser.add_argument("--demo", action="store_true")
    parser.add_argument("--result", type=Path, required=True)
    chosen = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kennel.settings")
    import django

    django.setup()
    migrate()
    write_private(chosen.result, json.dumps(demo() if chosen.demo else {}))


if __name__ == "__main__":
    main()
