"""Isolate the roll-up's machine rows; the jobs role writes them for all kennels."""

from django.db import migrations

from kennel.records.operations import ProtectMachine


class Migration(migrations.Migration):
    dependencies = [("rollup", "0001_initial"), ("records", "0002_protection")]

    operations = [ProtectMachine("LitterDay"), ProtectMachine("DirtyDay")]
