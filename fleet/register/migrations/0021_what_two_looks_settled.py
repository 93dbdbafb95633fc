"""Horns that speak for how common their kind is at the school, kept on the row and filled from what was found."""

from datetime import timedelta
from itertools import groupby

from django.db import migrations, models
from django.db.models import Q


def fill(apps, schema_editor):
    Horn = apps.get_model("register", "Horn")
    found = apps.get_model("register", "Identification").objects.order_by("horn_id", "at", "pk")
    rows = found.values_list("horn_id", "at", "by_id", "build", "settled", "teaches", "horn__build")
    teaching = []
    for horn, findings in groupby(rows.iterator(), key=lambda row: row[0]):
        of_one = list(findings)
        build, is_now = of_one[-1][3], of_one[-1][6]
        alike = [(at, by) for _, at, by, found, settled, teaches, _ in of_one if settled and teaches and found == build]
        twice = len({by for _, by in alike}) > 1 or (alike and alike[-1][0] - alike[0][0] >= timedelta(hours=12))
        if build == is_now and twice:
            teaching.append(horn)
    for start in range(0, len(teaching), 500):
        Horn.objects.filter(pk__in=teaching[start : start + 500]).update(teaches=True)


class Migration(migrations.Migration):
    dependencies = [("register", "0020_noted_back")]

    operations = [
        migrations.AddField("horn", "teaches", models.BooleanField(db_default=False, default=False, editable=False)),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(teaches=True),
                fields=["school", "withdrawn_on", "id", "teaches", "build"],
                name="horn_teaches",
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
