"""The worst grade says that the horn must not be played; withdrawn is only what has left the register. No column changes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0007_stand_in"),
    ]

    operations = [
        migrations.AlterField(
            model_name="conditioncheck",
            name="grade",
            field=models.PositiveSmallIntegerField(
                choices=[
                    (1, "plays well"),
                    (2, "plays, small fault"),
                    (3, "repair before the next loan"),
                    (4, "must not be played"),
                ],
                verbose_name="playing grade",
            ),
        ),
        migrations.AlterField(
            model_name="finding",
            name="severity",
            field=models.CharField(
                choices=[("n", "note"), ("w", "watch"), ("r", "repair before loan"), ("x", "must not be played")],
                max_length=1,
            ),
        ),
    ]
