from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("register", "0010_kinds_said_by_hand")]

    operations = [
        migrations.AddField(
            "horn",
            "acquired_within",
            models.CharField(
                blank=True,
                choices=[("", "that day"), ("month", "that month"), ("year", "that year")],
                db_default="",
                default="",
                editable=False,
                max_length=5,
            ),
        ),
    ]
