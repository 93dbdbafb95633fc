from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("register", "0019_photograph_sent_once")]

    operations = [
        migrations.AddField("horn", "noted_back", models.BooleanField(db_default=False, default=False, editable=False))
    ]
