from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0020_language_of_what_was_shown"),
    ]

    operations = [
        migrations.AddField(
            model_name="agreement",
            name="in_languages",
            field=models.JSONField(db_default={}, default=dict),
        ),
        migrations.AddField(
            model_name="lendingrules",
            name="in_languages",
            field=models.JSONField(db_default={}, default=dict),
        ),
        migrations.AddField(
            model_name="loan",
            name="language",
            field=models.CharField(db_default="", default="", max_length=8),
        ),
        migrations.AddField(
            model_name="sheetout",
            name="language",
            field=models.CharField(db_default="", default="", max_length=8),
        ),
    ]
