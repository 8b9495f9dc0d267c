"""Bind the records to the cluster they are set up on.  The app role only reads the binding."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("upkeep", "0001_initial"), ("records", "0002_protection")]

    operations = [
        migrations.RunSQL(
            """
            INSERT INTO upkeep_installation (id, system_identifier)
            SELECT 1, system_identifier FROM pg_control_system();
            REVOKE INSERT, UPDATE, DELETE ON upkeep_installation FROM kennel_app, kennel_jobs;
            """,
            "DELETE FROM upkeep_installation",
        )
    ]
