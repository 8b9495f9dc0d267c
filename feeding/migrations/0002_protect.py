"""Isolate, journal and version foods, feeding plans, meals, bottle feeds and stock."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("feeding", "0001_initial"), ("records", "0002_protection")]

    operations = [
        Protect("Food"),
        Protect("FeedingPlan"),
        Protect("Meal"),
        Protect("BottleFeed"),
        Protect("StockMove"),
    ]
