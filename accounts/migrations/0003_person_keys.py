"""Public keys of persons, by which their phones sign what they do."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("accounts", "0002_operator_tz")]
    operations = [
        migrations.CreateModel(
            name="PersonKey",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("key", models.CharField(max_length=32)),
                ("public", models.BinaryField(max_length=65)),
                ("since", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "operator",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="keys", to="accounts.operator"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="keys",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"constraints": [models.UniqueConstraint(fields=("operator", "key"), name="key_once")]},
        ),
    ]
