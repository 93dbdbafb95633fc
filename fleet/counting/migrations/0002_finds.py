import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("counting", "0001_begin"),
        ("register", "0005_described_as"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Find",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=64)),
                ("words", models.CharField(max_length=200)),
                ("place_words", models.CharField(blank=True, max_length=125)),
                ("seen_at", models.DateTimeField()),
                ("received_at", models.DateTimeField()),
                ("undone_at", models.DateTimeField(null=True)),
                (
                    "resolution",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("horn", "a horn of the register"),
                            ("not-ours", "not the school’s"),
                            ("nothing", "no horn: typed wrongly, or twice"),
                        ],
                        max_length=12,
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=300)),
                ("resolved_at", models.DateTimeField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "count",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="finds", to="counting.count"
                    ),
                ),
                (
                    "horn",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="found_as",
                        to="register.horn",
                    ),
                ),
                (
                    "place",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="register.place"
                    ),
                ),
                (
                    "resolved_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("count", "key"), name="find_sent_once"),
                    models.CheckConstraint(
                        condition=models.Q(("seen_at__lte", models.F("received_at"))), name="find_seen_before_received"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undone_at", None), ("undone_by", None)),
                            models.Q(("undone_at__isnull", False), ("undone_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="find_undone_by_somebody",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), ("resolution", ""), ("resolved_at", None), ("resolved_by", None)),
                            models.Q(
                                models.Q(("resolution", ""), _negated=True),
                                models.Q(("reason", ""), _negated=True),
                                ("resolved_at__isnull", False),
                                ("resolved_by__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="find_resolved_with_reason",
                        violation_error_message="What was found is resolved with a reason.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("horn__isnull", False), ("resolution", "horn")),
                            models.Q(models.Q(("resolution", "horn"), _negated=True), ("horn", None)),
                            _connector="OR",
                        ),
                        name="find_names_its_horn",
                        violation_error_message="Say which horn of the register it is.",
                    ),
                ],
            },
        ),
    ]
