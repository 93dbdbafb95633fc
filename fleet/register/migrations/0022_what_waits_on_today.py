"""Indexes of the few horns that wait for something, so that Today finds them without reading all others."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("register", "0021_what_two_looks_settled")]

    operations = [
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(mended_on__isnull=False), fields=["school", "mended_on", "id"], name="horn_mended"
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(mouthpiece_owed=True),
                fields=["school", "number_stem", "number_tail", "id"],
                name="horn_mouthpiece",
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(test_note_owed=True),
                fields=["school", "number_stem", "number_tail", "id"],
                name="horn_test_note",
            ),
        ),
    ]
