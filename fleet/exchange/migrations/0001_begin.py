"""Lists on their way in: imports, their batches of rows, and how a school matched its columns."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("people", "0001_begin"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Import",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("horns", "Horns"),
                            ("pupils", "Pupils and their guardians"),
                            ("past-loans", "Past loans"),
                        ],
                        max_length=12,
                    ),
                ),
                ("name", models.CharField(max_length=120, verbose_name="file")),
                ("at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("reading", "being read"),
                            ("columns", "columns to match"),
                            ("checking", "being looked over"),
                            ("checked", "to be looked at"),
                            ("writing", "being written"),
                            ("written", "written"),
                            ("undone", "undone"),
                        ],
                        default="columns",
                        max_length=10,
                    ),
                ),
                ("top", models.JSONField(default=list)),
                ("notes", models.JSONField(default=list)),
                ("header_line", models.PositiveIntegerField(default=1)),
                ("columns", models.JSONField(default=list)),
                ("day_first", models.BooleanField(default=True)),
                ("rows", models.PositiveIntegerField(default=0)),
                ("written_at", models.DateTimeField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "school",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="imports", to="people.school"
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="Batch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("place", models.PositiveIntegerField()),
                ("rows", models.JSONField(default=list)),
                ("checked", models.BooleanField(default=False)),
                ("written", models.BooleanField(default=False)),
                ("seen", models.JSONField(default=dict)),
                ("new", models.PositiveIntegerField(default=0)),
                ("changed", models.PositiveIntegerField(default=0)),
                ("same", models.PositiveIntegerField(default=0)),
                ("refused", models.PositiveIntegerField(default=0)),
                ("made", models.JSONField(default=dict)),
                (
                    "batch_of",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="batches", to="exchange.import"
                    ),
                ),
            ],
            options={
                "ordering": ["place"],
            },
        ),
        migrations.CreateModel(
            name="RememberedColumns",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("horns", "Horns"),
                            ("pupils", "Pupils and their guardians"),
                            ("past-loans", "Past loans"),
                        ],
                        max_length=12,
                    ),
                ),
                ("columns", models.JSONField(default=dict)),
                ("day_first", models.BooleanField(default=True)),
                (
                    "school",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="people.school"
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="import",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "writing")),
                fields=("school",),
                name="one_import_written_at_a_time",
                violation_error_message="Another list is being written at this moment.",
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.UniqueConstraint(fields=("batch_of", "place"), name="batch_place_once"),
        ),
        migrations.AddConstraint(
            model_name="rememberedcolumns",
            constraint=models.UniqueConstraint(fields=("school", "kind"), name="columns_remembered_once"),
        ),
    ]
