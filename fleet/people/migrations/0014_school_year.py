import datetime

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0013_tuned_to")]

    operations = [
        migrations.AddField(
            "school", "year_ends", models.DateField(blank=True, null=True, verbose_name="the school year ends on")
        ),
        migrations.AlterField(
            "school",
            "loan_days",
            models.PositiveSmallIntegerField(
                default=300,
                help_text="Only where no end of a school year lies ahead; else a loan is due when the school year ends.",
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(1500),
                ],
                verbose_name="usual length of a loan in days",
            ),
        ),
        migrations.CreateModel(
            name="Holiday",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=60)),
                ("first", models.DateField(verbose_name="first day")),
                ("last", models.DateField(verbose_name="last day")),
                (
                    "school",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="holidays", to="people.school"
                    ),
                ),
            ],
            options={
                "ordering": ["first", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("last__gte", models.F("first"))),
                        name="holiday_in_order",
                        violation_error_message="The last day comes before the first.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("first__gte", datetime.date(1900, 1, 1)), ("last__lte", datetime.date(2200, 12, 31))
                        ),
                        name="holiday_in_our_time",
                        violation_error_message="Look at the years again.",
                    ),
                ],
            },
        ),
    ]
