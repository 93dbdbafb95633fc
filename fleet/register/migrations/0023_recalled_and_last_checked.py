"""That a horn was called back, kept on its row, and an index to find horns by whose check is due."""

from django.db import migrations, models
from django.db.models import F, Q

from fleet.register.models.indexes import LastChecked


class Migration(migrations.Migration):
    dependencies = [("register", "0022_what_waits_on_today")]

    operations = [
        migrations.AddField("horn", "recalled", models.BooleanField(db_default=False, default=False, editable=False)),
        migrations.AddIndex(
            "horn",
            models.Index(
                F("school"),
                F("where"),
                LastChecked("checked_on"),
                F("number_stem"),
                F("number_tail"),
                F("id"),
                name="horn_by_check_needed",
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(condition=Q(recalled=True), fields=["school", "due_on", "id"], name="horn_recalled"),
        ),
    ]
