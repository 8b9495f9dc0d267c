"""Isolate the letters of invitations: machine rows, written by the worker for all kennels."""

from django.db import migrations

from kennel.records.operations import ProtectMachine


class Migration(migrations.Migration):
    dependencies = [("people", "0003_tablet_turns_and_letters"), ("records", "0002_protection")]

    operations = [ProtectMachine("InvitationLetter")]
