from django.db import migrations, models

import fleet.ground.languages.known


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0021_sign_in_by"),
    ]

    operations = [
        migrations.AddField(
            model_name="school",
            name="staff_languages",
            field=models.JSONField(blank=True, db_default=[], default=list, verbose_name="other languages for staff"),
        ),
        migrations.AddField(
            model_name="user",
            name="language",
            field=models.CharField(
                blank=True,
                choices=fleet.ground.languages.known.choices,
                db_default="",
                default="",
                max_length=8,
            ),
        ),
    ]
