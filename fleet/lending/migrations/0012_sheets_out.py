import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0011_accessory_settled"),
        ("people", "0005_openings_of_lists"),
        ("register", "0010_kinds_said_by_hand"),
        ("workshop", "0008_words_of_the_worst_grade"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="onlinesignature",
            options={"ordering": ["-asked_at", "-pk"], "verbose_name": "request to sign"},
        ),
        migrations.AlterField(
            model_name="onlinesignature",
            name="guardian",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="people.guardian"),
        ),
        migrations.AlterField(
            model_name="onlinesignature",
            name="horn",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="register.horn"),
        ),
        migrations.AlterField(
            model_name="onlinesignature",
            name="pupil",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="people.pupil"),
        ),
        migrations.CreateModel(
            name="SheetOut",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("due_on", models.DateField()),
                ("accessories", models.JSONField(default=list)),
                ("printed_at", models.DateTimeField()),
                ("put_away_at", models.DateTimeField(null=True)),
                (
                    "agreement",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="loans.agreement"
                    ),
                ),
                (
                    "check_seen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workshop.conditioncheck"
                    ),
                ),
                ("guardian", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="people.guardian")),
                ("horn", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="register.horn")),
                (
                    "printed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("pupil", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="people.pupil")),
            ],
            options={
                "verbose_name": "sheet to sign",
                "ordering": ["-printed_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("put_away_at", None)),
                        fields=("horn", "pupil"),
                        name="one_sheet_out_of_a_horn_and_pupil",
                    )
                ],
            },
        ),
    ]
