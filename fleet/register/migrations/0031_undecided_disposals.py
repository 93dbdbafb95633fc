"""Disposals that wait for a decision are found among all horns that were ever given up."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0030_graded_on_a_day"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="disposal",
            index=models.Index(condition=models.Q(("decided_at", None)), fields=["horn"], name="disposal_undecided"),
        ),
    ]
