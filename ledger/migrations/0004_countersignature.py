"""What witnesses answered to the signed states of the histories, and triggers that keep it."""

import django.db.models.deletion
from django.db import migrations, models

from ledger import triggers


def _create(apps, schema_editor):
    triggers.create(schema_editor.connection, "countersignature")


def _drop(apps, schema_editor):
    triggers.drop(schema_editor.connection, "countersignature")


class Migration(migrations.Migration):
    dependencies = [("ledger", "0003_checkpoint")]
    operations = [
        migrations.CreateModel(
            name="Countersignature",
            fields=[
                (
                    "pk",
                    models.CompositePrimaryKey(
                        "log_id", "size", "witness", blank=True, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("size", models.BigIntegerField()),
                ("witness", models.CharField(max_length=200)),
                ("key", models.CharField(max_length=300)),
                ("line", models.TextField()),
                ("seen_at", models.DateTimeField()),
                ("received_at", models.DateTimeField()),
                (
                    "log",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="countersignatures",
                        to="ledger.log",
                    ),
                ),
            ],
        ),
        migrations.RunPython(_create, _drop),
    ]
