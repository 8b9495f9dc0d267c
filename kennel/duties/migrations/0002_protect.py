"""Isolate and journal routines, duties, taps and shifts; isolate the machine rows; let the jobs role note its ticks."""

from django.db import migrations

from kennel.records.operations import Protect, ProtectMachine


class Migration(migrations.Migration):
    dependencies = [("duties", "0001_routines_duties_reminders"), ("records", "0002_protection")]

    operations = [
        Protect("Routine"),
        Protect("Duty"),
        Protect("DutyAction"),
        Protect("Shift"),
        ProtectMachine("DutyAnimal"),
        ProtectMachine("PlanMark"),
        ProtectMachine("Reminder"),
        ProtectMachine("ReminderChoice"),
        # Ticks belong to no kennel: the worker notes them as the jobs role, everybody may read them.
        migrations.RunSQL(
            "REVOKE INSERT, UPDATE, DELETE ON duties_tick FROM kennel_app;"
            " GRANT SELECT, INSERT, UPDATE ON duties_tick TO kennel_jobs",
            migrations.RunSQL.noop,
        ),
    ]
