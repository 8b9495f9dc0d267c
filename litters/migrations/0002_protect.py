"""Isolate, journal and version the first records."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("litters", "0001_initial"), ("records", "0002_protection")]

    operations = [Protect("Dog"), Protect("Litter"), Protect("Pup"), Protect("Weighing")]
