"""How a horn stood on a day of an earlier year, what was mended in a year, which parts that took and what repairs cost
are found along an index each, however many years there are. Findings say of which school they are, that of their horn:
what was mended was sought among all schools'."""

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import OuterRef, Q, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    checks = apps.get_model("workshop", "ConditionCheck").objects.filter(pk=OuterRef("check_made"))
    apps.get_model("workshop", "Finding").objects.update(school=Subquery(checks.values("horn__school")))


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0029_people_by_words"),
        ("register", "0031_undecided_disposals"),
        ("workshop", "0021_jobs_in_turn"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveIndex("conditioncheck", "check_by_horn"),
        migrations.AddIndex(
            "conditioncheck", models.Index(fields=["horn", "-at", "-id", "grade"], name="check_by_horn_graded")
        ),
        migrations.AddField(
            "finding",
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
            "finding",
            models.Index(condition=Q(mended_at__isnull=False), fields=["school", "mended_at"], name="finding_mended"),
        ),
        migrations.AddIndex(
            "repairjob",
            models.Index(
                fields=["school", "cost"],
                condition=Q(closed_at__isnull=False, cost__isnull=False),
                name="job_cost",
            ),
        ),
        migrations.AddIndex(
            "partused", models.Index(fields=["part", "at", "count", "cost_each"], name="part_used_in_days")
        ),
    ]
