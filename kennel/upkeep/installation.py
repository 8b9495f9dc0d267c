"""Binding of the records to their cluster: new epochs after every restore, refusal after a copy by hand."""

from datetime import datetime

from django.db import connection


def system_identifier() -> int:
    """Number of the cluster we are connected to."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT system_identifier FROM pg_control_system()")
        return int(cursor.fetchone()[0])


def is_ours() -> bool:
    """Whether these records were set up on, or restored into, this cluster."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT i.system_identifier = c.system_identifier FROM pg_control_system() c, upkeep_installation i"
        )
        row = cursor.fetchone()
    return bool(row and row[0])


def began_at() -> datetime | None:
    """When the first tables were made; None without any."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT min(applied) FROM django_migrations")
        found: datetime | None = cursor.fetchone()[0]
    return found


def adopt() -> int:
    """Accept this cluster (owner role): every kennel gets a new epoch; returns how many kennels."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO upkeep_installation (id, system_identifier) SELECT 1, system_identifier FROM pg_control_system()"
            " ON CONFLICT (id) DO UPDATE SET system_identifier = EXCLUDED.system_identifier"
        )
        # Above any epoch a device may have seen, also when an older backup is restored twice.
        cursor.execute(
            "UPDATE records_counter SET epoch = greatest(epoch + 1, extract(epoch FROM clock_timestamp())::int)"
        )
        return int(cursor.rowcount)
