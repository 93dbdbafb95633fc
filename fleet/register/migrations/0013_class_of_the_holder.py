from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("register", "0012_struck_out")]

    operations = [
        migrations.AddField(
            "horn", "holder_group", models.CharField(db_default="", default="", editable=False, max_length=60)
        ),
        migrations.AddIndex(
            "horn",
            models.Index(fields=["school", "holder_group", "number_stem", "number_tail", "id"], name="horn_by_class"),
        ),
    ]
