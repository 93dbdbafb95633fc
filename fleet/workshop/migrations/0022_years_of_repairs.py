"""How a horn stood on a day of an earlier year, what was mended in a year, which parts that took and what repairs cost
are found along an index each, however many years there are."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0031_undecided_disposals"),
        ("workshop", "0021_jobs_in_turn"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name="conditioncheck",
            name="check_by_horn",
        ),
        migrations.AddIndex(
            model_name="conditioncheck",
            index=models.Index(fields=["horn", "-at", "-id", "grade"], name="check_by_horn_graded"),
        ),
        migrations.AddIndex(
            model_name="finding",
            index=models.Index(
                condition=models.Q(("mended_at__isnull", False)), fields=["mended_at"], name="finding_mended"
            ),
        ),
        migrations.AddIndex(
            model_name="repairjob",
            index=models.Index(
                fields=["school", "cost"],
                condition=models.Q(closed_at__isnull=False, cost__isnull=False),
                name="job_cost",
            ),
        ),
        migrations.AddIndex(
            model_name="partused",
            index=models.Index(fields=["part", "at", "count", "cost_each"], name="part_used_in_days"),
        ),
    ]
