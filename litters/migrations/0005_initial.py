"""The kinds of departure in the words people see; no column changes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("litters", "0004_protect_more_facts")]

    operations = [
        migrations.AlterField(
            model_name="departure",
            name="kind",
            field=models.CharField(
                choices=[
                    ("sold", "gone home (sold)"),
                    ("given", "gone home (given)"),
                    ("lent", "lent"),
                    ("to_owner", "gone to its owner"),
                    ("other", "left otherwise"),
                ],
                max_length=12,
            ),
        )
    ]
