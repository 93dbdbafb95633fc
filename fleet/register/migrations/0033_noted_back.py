"""Horns of which a return is noted are found among all that are out, without the notes of loans that ended."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("register", "0032_numbers_by_words")]

    operations = [
        migrations.AddIndex(
            model_name="horn",
            index=models.Index(
                condition=models.Q(("noted_back", True)), fields=["school", "due_on", "id"], name="horn_noted"
            ),
        ),
    ]
