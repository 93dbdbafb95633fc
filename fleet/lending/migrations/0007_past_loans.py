"""Loans that ended before the school kept its loans here."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0006_matching"),
        ("people", "0002_needs"),
        ("register", "0005_described_as"),
    ]

    operations = [
        migrations.CreateModel(
            name="PastLoan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("issued_on", models.DateField(verbose_name="issued on")),
                ("returned_on", models.DateField(verbose_name="returned on")),
                ("notes", models.CharField(blank=True, max_length=300)),
                (
                    "horn",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="past_loans", to="register.horn"
                    ),
                ),
                (
                    "pupil",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="past_loans", to="people.pupil"
                    ),
                ),
            ],
            options={
                "verbose_name": "past loan",
                "ordering": ["-issued_on", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("horn", "issued_on"),
                        name="past_loan_once",
                        violation_error_message="A past loan of this horn from this day is already on record.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("returned_on__gte", models.F("issued_on"))),
                        name="past_loan_ends_after_issue",
                        violation_error_message="A horn cannot come back before it was issued.",
                    ),
                ],
            },
        ),
    ]
