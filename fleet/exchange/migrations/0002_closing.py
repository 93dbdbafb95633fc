import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("exchange", "0001_begin"),
        ("people", "0005_openings_of_lists"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Closing",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reason", models.CharField(max_length=300)),
                ("proposed_at", models.DateTimeField()),
                ("agreed_at", models.DateTimeField(null=True)),
                (
                    "agreed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "school",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="closing", to="people.school"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("agreed_by", None),
                            models.Q(("agreed_by", models.F("proposed_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="closing_by_two_people",
                        violation_error_message="Somebody else than who proposed it agrees.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("agreed_at", None), ("agreed_by", None)),
                            models.Q(("agreed_at__gte", models.F("proposed_at")), ("agreed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="closing_agreed_whole",
                    ),
                ],
            },
        ),
    ]
