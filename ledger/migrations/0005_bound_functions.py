from typing import Any

from django.db import migrations

from ledger import triggers


def bind(apps: Any, schema_editor: Any) -> None:
    triggers.bind(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("ledger", "0004_countersignature")]

    operations = [migrations.RunPython(bind, migrations.RunPython.noop)]
