
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("courses", "0002_reopening"),
    ]

    operations = [
        migrations.AlterField(
            model_name="version",
            name="kind",
            field=models.CharField(
                choices=[
                    ("line", "line data"),
                    ("platform", "platform data"),
                    ("component", "component data"),
                    ("checklist", "checklist"),
                    ("limits", "limits"),
                    ("criteria", "criteria sets"),
                    ("calendar", "season calendar"),
                    ("reopening", "reopening after a hold"),
                    ("mechanics", "mechanics of a line"),
                ],
                max_length=10,
            ),
        ),
    ]
