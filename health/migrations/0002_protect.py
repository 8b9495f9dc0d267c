"""Isolate, journal and version medicines, treatment plans, treatments, health events and watches."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("health", "0001_initial"), ("records", "0002_protection")]

    operations = [
        Protect("Medicine"),
        Protect("TreatmentPlan"),
        Protect("Treatment"),
        Protect("HealthEvent"),
        Protect("Watch"),
    ]
