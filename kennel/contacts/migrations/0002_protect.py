"""Isolate, journal and version contacts; personal values are journalled by name only."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("contacts", "0001_initial"), ("records", "0002_protection")]

    operations = [Protect("Contact", hidden=("name", "email", "phone", "address", "note"))]
