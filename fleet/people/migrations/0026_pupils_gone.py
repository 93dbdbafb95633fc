"""An index of the pupils who left, so that Today finds the horns they have without reading all loans."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("people", "0025_rules_in_languages")]

    operations = [
        migrations.AddIndex(
            "pupil",
            models.Index(condition=Q(left_on__isnull=False), fields=["school", "left_on"], name="pupil_gone"),
        ),
    ]
