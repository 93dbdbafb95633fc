"""Repair jobs say of which school they are, that of their horn, and keep their turn, which `prepare` fills in once all
tables are of today."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Q, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    horns = apps.get_model("register", "Horn").objects.filter(pk=OuterRef("horn"))
    apps.get_model("workshop", "RepairJob").objects.update(school=Subquery(horns.values("school")))


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0029_people_by_words"),
        ("register", "0028_horns_kept_by_kind"),
        ("workshop", "0020_exercise"),
    ]

    operations = [
        migrations.AddField(
            "repairjob",
            "school",
            models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="people.school",
            ),
        ),
        migrations.AddField("repairjob", "turn", models.BigIntegerField(editable=False, null=True)),
        migrations.AddField("repairjob", "wants", models.JSONField(db_default=[], default=list, editable=False)),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
        migrations.AddIndex(
            "repairjob", models.Index(fields=["school", "closed_at", "turn", "id"], name="job_in_turn")
        ),
        migrations.AddIndex(
            "repairjob",
            models.Index(
                condition=Q(closed_at=None, expected_on__isnull=False),
                fields=["school", "expected_on"],
                name="job_away",
            ),
        ),
        migrations.AddIndex(
            "repairjob",
            models.Index(condition=Q(brought_at__isnull=False, fetched_at=None), fields=["school"], name="job_brought"),
        ),
    ]
