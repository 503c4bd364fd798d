"""Of a file that was erased: which entry decided it, and when."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("courses", "0003_mechanics"),
    ]

    operations = [
        migrations.AddField(
            model_name="storedfile",
            name="erased_seq",
            field=models.BigIntegerField(blank=True, help_text="entry by which its bytes were erased", null=True),
        ),
        migrations.AddField(
            model_name="storedfile",
            name="erased_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
