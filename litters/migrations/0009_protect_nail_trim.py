"""Isolate, journal and version nail trims."""

from django.db import migrations

from kennel.records.operations import Protect


class Migration(migrations.Migration):
    dependencies = [("litters", "0008_nail_trim")]

    operations = [Protect("NailTrim")]
