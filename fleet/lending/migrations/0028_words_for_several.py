from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0027_loan_follows"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="onlinesignature",
            options={
                "ordering": ["-asked_at", "-pk"],
                "verbose_name": "request to sign",
                "verbose_name_plural": "requests to sign",
            },
        ),
        migrations.AlterModelOptions(
            name="sheetout",
            options={
                "ordering": ["-printed_at", "-pk"],
                "verbose_name": "sheet to sign",
                "verbose_name_plural": "sheets to sign",
            },
        ),
        migrations.AlterModelOptions(
            name="wish",
            options={"ordering": ["since", "pk"], "verbose_name_plural": "wishes"},
        ),
    ]
