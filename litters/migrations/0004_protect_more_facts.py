"""Isolate, journal and version temperatures, climate, departures, returns, bookings and milestones."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("litters", "0003_more_facts")]

    operations = [
        Protect("Temperature"),
        Protect("BoxClimate"),
        Protect("Departure"),
        Protect("Return"),
        Protect("Booking"),
        Protect("Milestone"),
    ]
