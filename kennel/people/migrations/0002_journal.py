"""Journal the identity tables that belong to a kennel."""

from django.db import migrations

from kennel.records.operations import JournalIdentity


class Migration(migrations.Migration):
    dependencies = [("people", "0001_initial"), ("records", "0002_protection")]

    operations = [
        JournalIdentity("Kennel", silent=("kennel_id",)),
        JournalIdentity("Membership", hidden=("pin_hash",)),
        JournalIdentity("Invitation", hidden=("token_hash", "email")),
        JournalIdentity("Device", hidden=("token_hash", "token_key"), silent=("last_used_at",)),
    ]
