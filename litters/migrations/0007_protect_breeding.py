"""Isolate, journal and version seasons, tests, matings, scans, the whelping log and what was agreed."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("litters", "0006_breeding")]

    operations = [
        Protect("Season"),
        Protect("ProgesteroneTest"),
        Protect("Mating"),
        Protect("Scan"),
        Protect("WhelpingEntry"),
        Protect("AgreedFigure"),
        Protect("RuleSetting"),
        Protect("Waiver"),
    ]
