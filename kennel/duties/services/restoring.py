"""After a restore from a backup: messages that were due before it may have been sent already."""

from datetime import datetime

from django.db import connection


def reminders_suppress(at: datetime) -> int:
    """Suppress all unsent messages that were due by now, in all kennels; gives how many.

    For the restore command, whose default database role is the owner.  The duties stay as they are,
        and the next
    steps of their escalation are sent.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder SET state = 'suppressed', problem = 'due before the restore',
                claim_token = NULL
            WHERE state = 'pending' AND (next_attempt_at <= %s OR scheduled_at <= %s)
            """,
            [at, at],
        )
        return int(cursor.rowcount)
