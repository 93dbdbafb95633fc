import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0014_disposals_for_money"),
        ("workshop", "0010_places_of_findings"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="NotDone",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("fault", models.CharField(max_length=40)),
                ("why", models.CharField(max_length=300)),
                ("at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="OtherQuote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("repairer", models.CharField(max_length=120)),
                (
                    "amount",
                    models.DecimalField(
                        decimal_places=2, max_digits=10, validators=[django.core.validators.MinValueValidator(0)]
                    ),
                ),
                ("words", models.CharField(blank=True, max_length=300)),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["amount", "pk"],
            },
        ),
        migrations.AddField(
            model_name="repairjob",
            name="verdict",
            field=models.CharField(
                blank=True,
                choices=[("yes", "worth mending"), ("no", "not worth mending")],
                default="",
                db_default="",
                max_length=3,
                verbose_name="worth mending",
            ),
        ),
        migrations.AddField(
            model_name="repairjob",
            name="verdict_why",
            field=models.CharField(blank=True, default="", db_default="", max_length=500, verbose_name="why"),
        ),
        migrations.AddField(
            model_name="repairjob",
            name="work_ordered",
            field=models.TextField(blank=True, default="", db_default="", max_length=4000),
        ),
        migrations.AddConstraint(
            model_name="repairjob",
            constraint=models.CheckConstraint(
                condition=models.Q(("verdict", ""), models.Q(("verdict_why", ""), _negated=True), _connector="OR"),
                name="job_verdict_with_reason",
                violation_error_message="Say why.",
            ),
        ),
        migrations.AddField(
            model_name="notdone",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="notdone",
            name="job",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="not_done", to="workshop.repairjob"
            ),
        ),
        migrations.AddField(
            model_name="otherquote",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="otherquote",
            name="job",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="other_quotes", to="workshop.repairjob"
            ),
        ),
        migrations.AddConstraint(
            model_name="notdone",
            constraint=models.UniqueConstraint(fields=("job", "fault"), name="not_done_once"),
        ),
        migrations.AddConstraint(
            model_name="otherquote",
            constraint=models.CheckConstraint(
                condition=models.Q(("amount__gte", 0)),
                name="other_quote_not_negative",
                violation_error_message="A quote cannot be less than nothing.",
            ),
        ),
    ]
