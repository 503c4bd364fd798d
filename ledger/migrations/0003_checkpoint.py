"""The signed states of the histories, and triggers that keep them."""

import django.db.models.deletion
from django.db import migrations, models

from ledger import triggers


def _create(apps, schema_editor):
    triggers.create(schema_editor.connection, "checkpoint")


def _drop(apps, schema_editor):
    triggers.drop(schema_editor.connection, "checkpoint")


class Migration(migrations.Migration):
    dependencies = [("ledger", "0002_append_only")]
    operations = [
        migrations.CreateModel(
            name="Checkpoint",
            fields=[
                (
                    "pk",
                    models.CompositePrimaryKey(
                        "log_id", "size", blank=True, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("size", models.BigIntegerField()),
                ("root", models.BinaryField(max_length=32)),
                ("note", models.TextField()),
                ("made_at", models.DateTimeField()),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="checkpoints", to="ledger.log"
                    ),
                ),
            ],
        ),
        migrations.RunPython(_create, _drop),
    ]
