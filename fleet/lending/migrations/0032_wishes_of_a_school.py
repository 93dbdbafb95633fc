"""Wishes say of which school they are: that of their pupil."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    pupils = apps.get_model("people", "Pupil").objects.filter(pk=OuterRef("pupil"))
    apps.get_model("loans", "Wish").objects.update(school=Subquery(pupils.values("school")))


class Migration(migrations.Migration):
    dependencies = [("loans", "0031_lost_loans"), ("people", "0030_apostrophes_alike")]

    operations = [
        migrations.AddField(
            "wish",
            "school",
            models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="people.school",
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
        migrations.AddIndex(
            "wish",
            models.Index(condition=models.Q(ended_on=None), fields=["school", "since", "id"], name="wish_in_order"),
        ),
        migrations.AddIndex(
            "wish",
            models.Index(
                condition=models.Q(ended_on=None, horn__isnull=False),
                fields=["school", "since", "id"],
                name="wish_for_a_horn",
            ),
        ),
    ]
