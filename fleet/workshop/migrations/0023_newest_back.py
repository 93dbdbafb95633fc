"""The newest times that a repairer sent a horn back are found along an index, however many jobs there were."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0022_years_of_repairs")]

    operations = [
        migrations.AddIndex(
            model_name="repairjob",
            index=models.Index(
                condition=models.Q(("back_on__isnull", False)),
                fields=["school", "-back_on", "-id"],
                name="job_back_newest",
            ),
        ),
    ]
