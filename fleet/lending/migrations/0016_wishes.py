import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0015_class_and_search"),
        ("people", "0013_tuned_to"),
        ("register", "0013_class_of_the_holder"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Wish",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "family",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "any"),
                            ("horn", "French horn"),
                            ("wagner", "Wagner tuba"),
                            ("other", "another instrument"),
                        ],
                        default="",
                        max_length=8,
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        blank=True,
                        choices=[("", "single or double"), ("single", "single"), ("double", "double")],
                        default="",
                        max_length=8,
                    ),
                ),
                ("stands_in", models.CharField(blank=True, default="", max_length=12)),
                ("compact", models.BooleanField(default=False)),
                ("since", models.DateField(verbose_name="waits since")),
                ("reserved_until", models.DateField(blank=True, null=True, verbose_name="kept for them until")),
                ("made_at", models.DateTimeField()),
                ("ended_on", models.DateField(blank=True, null=True)),
                (
                    "horn",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="wishes",
                        to="register.horn",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "pupil",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wishes", to="people.pupil"
                    ),
                ),
            ],
            options={
                "ordering": ["since", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reserved_until", None), ("horn__isnull", False), _connector="OR"),
                        name="reserved_is_a_horn",
                        violation_error_message="Say which horn is kept for them.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("horn", None),
                            models.Q(("compact", False), ("family", ""), ("kind", ""), ("stands_in", "")),
                            _connector="OR",
                        ),
                        name="wish_of_one_sort",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("ended_on", None), ("reserved_until__isnull", False)),
                        fields=("horn",),
                        name="one_reservation_a_horn",
                        violation_error_message="This horn is kept for somebody already.",
                    ),
                ],
            },
        ),
    ]
