"""Isolate, journal and version growth tables."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("litters", "0009_growth_table")]

    operations = [Protect("GrowthTable")]
