from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0011_acquired_within"),
    ]

    operations = [
        migrations.AddField(
            model_name="horn",
            name="struck_out",
            field=models.BooleanField(db_default=False, default=False, editable=False),
        ),
        migrations.AlterField(
            model_name="standing",
            name="kind",
            field=models.CharField(
                choices=[
                    ("withdrawn", "withdrawn"),
                    ("kept-again", "kept again"),
                    ("not-found", "not found"),
                    ("found", "found"),
                    ("struck-out", "struck out, entered by mistake"),
                ],
                max_length=12,
            ),
        ),
    ]
