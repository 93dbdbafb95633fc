from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("exchange", "0002_closing"),
    ]

    operations = [
        migrations.AddField(
            model_name="batch",
            name="noted",
            field=models.PositiveIntegerField(db_default=0, default=0),
        ),
        migrations.AddField(
            model_name="import",
            name="answers",
            field=models.JSONField(db_default=[], default=list),
        ),
        migrations.AddField(
            model_name="import",
            name="questions",
            field=models.JSONField(db_default=[], default=list),
        ),
        migrations.AlterField(
            model_name="import",
            name="kind",
            field=models.CharField(
                choices=[
                    ("horns", "Horns"),
                    ("pupils", "Pupils and their guardians"),
                    ("running", "Running loans: who has which horn now"),
                    ("past-loans", "Past loans"),
                ],
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="rememberedcolumns",
            name="kind",
            field=models.CharField(
                choices=[
                    ("horns", "Horns"),
                    ("pupils", "Pupils and their guardians"),
                    ("running", "Running loans: who has which horn now"),
                    ("past-loans", "Past loans"),
                ],
                max_length=12,
            ),
        ),
    ]
