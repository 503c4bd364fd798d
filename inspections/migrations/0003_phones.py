"""Keep what phones say of themselves: when one was seen, whether it has today with it, what it owes."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0003_person_keys"),
        ("inspections", "0002_ride_control"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Phone",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "phone",
                    models.UUIDField(help_text="made once by the phone itself; storage that was emptied makes another"),
                ),
                ("seen_at", models.DateTimeField()),
                ("has", models.DateField(help_text="day whose pages are kept on it; empty after a log-out", null=True)),
                ("owes", models.JSONField(default=list)),
                (
                    "operator",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="accounts.operator"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["operator", "seen_at"], name="phone_seen")],
                "constraints": [
                    models.UniqueConstraint(fields=("operator", "phone", "person"), name="phone_of_person_once")
                ],
            },
        ),
    ]
