"""Give each test ride a place for what was judged of it for the charts of its line; rides from before keep none."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="ride",
            name="control",
            field=models.JSONField(
                default=dict, help_text="what was computed for it, and how its charts stood"
            ),
        ),
    ]
