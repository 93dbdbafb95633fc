"""Sheets that went home know their loan, each sheet has a code of its own, and what came back signed is kept with the
loan."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.register.models
from fleet.register.models import new_label_code

AT_ONCE = 500


def fill(apps, schema_editor):
    for name in ("Loan", "SheetOut"):
        rows = apps.get_model("loans", name).objects
        while some := list(rows.filter(sheet_code=None).only("pk")[:AT_ONCE]):
            for one in some:
                one.sheet_code = new_label_code()
            rows.bulk_update(some, ["sheet_code"])


# Of a row that an older version of the site writes meanwhile the sheet shows the code of its horn.
EMPTY = models.CharField(editable=False, max_length=12, null=True, unique=True)
FILLED = models.CharField(
    default=fleet.register.models.horns.new_label_code, editable=False, max_length=12, null=True, unique=True
)


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0017_letters_begin"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(model_name="loan", name="sheet_code", field=EMPTY),
        migrations.AddField(model_name="sheetout", name="sheet_code", field=EMPTY),
        migrations.AddField(
            model_name="sheetout",
            name="loan",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="sheet_out",
                to="loans.loan",
            ),
        ),
        migrations.CreateModel(
            name="SignedSheet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("file", models.FileField(max_length=200, upload_to="sheets/%Y/")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "loan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="signed_sheets", to="loans.loan"
                    ),
                ),
            ],
            options={"verbose_name": "signed sheet", "ordering": ["at", "pk"]},
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
        migrations.AlterField(model_name="loan", name="sheet_code", field=FILLED),
        migrations.AlterField(model_name="sheetout", name="sheet_code", field=FILLED),
    ]
