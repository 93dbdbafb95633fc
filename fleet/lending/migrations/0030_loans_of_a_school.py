"""Loans say of which school they are: that of their horn."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Q, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    horns = apps.get_model("register", "Horn").objects.filter(pk=OuterRef("horn"))
    apps.get_model("loans", "Loan").objects.update(school=Subquery(horns.values("school")))


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0029_sheets_out"),
        ("people", "0029_people_by_words"),
        ("register", "0028_horns_kept_by_kind"),
    ]

    operations = [
        migrations.AddField(
            "loan",
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
        migrations.RemoveIndex("loan", "loan_open_by_due"),
        migrations.AddIndex("loan", models.Index(fields=["school", "due_on", "id"], name="loan_by_due")),
        migrations.AddIndex("loan", models.Index(fields=["school", "issued_on", "id"], name="loan_by_issue")),
        migrations.AddIndex(
            "loan",
            models.Index(
                condition=Q(returned_on=None),
                fields=["school", "due_on", "id", "returned_on"],
                name="loan_out_by_due",
            ),
        ),
        migrations.AddIndex(
            "loan",
            models.Index(condition=Q(returned_on=None), fields=["school", "-issued_on", "-id"], name="loan_out_newest"),
        ),
        migrations.AddIndex(
            "loan",
            models.Index(
                condition=Q(returned_on__isnull=False), fields=["school", "-returned_on", "-id"], name="loan_ended"
            ),
        ),
    ]
