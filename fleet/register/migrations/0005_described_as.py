"""The words of the list a horn came in with."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0004_disposals"),
    ]

    operations = [
        migrations.AddField(
            model_name="horn",
            name="described_as",
            field=models.CharField(blank=True, max_length=120, verbose_name="described as"),
        ),
    ]
