"""Triggers that refuse to change or remove an entry."""

from django.db import migrations

from ledger import triggers


def _create(apps, schema_editor):
    triggers.create(schema_editor.connection, "entry")


def _drop(apps, schema_editor):
    triggers.drop(schema_editor.connection, "entry")


class Migration(migrations.Migration):
    dependencies = [("ledger", "0001_initial")]
    operations = [migrations.RunPython(_create, _drop)]
