"""How the horns of a school were graded on a day is read along one index, which tells when each was checked, how, and
whether it was the school’s then: no horn is read for it."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0030_apostrophes_alike"),
        ("register", "0029_apostrophes_alike"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name="horn",
            name="horn_by_check",
        ),
        migrations.AddIndex(
            model_name="horn",
            index=models.Index(
                fields=[
                    "school",
                    "checked_on",
                    "number_stem",
                    "number_tail",
                    "id",
                    "grade",
                    "created",
                    "acquired_on",
                    "withdrawn_on",
                    "struck_out",
                ],
                name="horn_by_check",
            ),
        ),
    ]
