from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("mail", "0003_was_for"),
    ]

    operations = [
        migrations.AddField(
            model_name="outgoing",
            name="answers_to",
            field=models.CharField(blank=True, db_default="", default="", max_length=320),
        ),
    ]
