from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0014_disposals_for_money"),
    ]

    operations = [
        migrations.AddField(
            model_name="identification",
            name="teaches",
            field=models.BooleanField(db_default=True, default=True),
        ),
    ]
