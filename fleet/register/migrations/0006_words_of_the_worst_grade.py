"""The worst grade says that the horn must not be played; withdrawn is only what has left the register. No column changes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0005_described_as"),
    ]

    operations = [
        migrations.AlterField(
            model_name="horn",
            name="grade",
            field=models.PositiveSmallIntegerField(
                choices=[
                    (1, "plays well"),
                    (2, "plays, small fault"),
                    (3, "repair before the next loan"),
                    (4, "must not be played"),
                ],
                editable=False,
                null=True,
                verbose_name="playing grade",
            ),
        ),
    ]
