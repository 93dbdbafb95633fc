from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0009_words_of_away"),
    ]

    operations = [
        migrations.AddField(
            model_name="finding",
            name="places",
            field=models.JSONField(db_default=[], default=list),
        ),
    ]
