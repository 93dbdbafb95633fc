"""Numbers are looked up by three letters and more, and by their last figures, for lists of what is about horns."""

from typing import Any

from django.db import migrations, models

from fleet.people.models.trigrams import make_trigrams
from fleet.register.models.searching import NUMBERS


def forwards(apps: Any, schema_editor: Any) -> None:
    make_trigrams(schema_editor.connection, NUMBERS)


class Migration(migrations.Migration):
    dependencies = [("register", "0031_undecided_disposals")]

    operations = [
        migrations.AddIndex("horn", models.Index(fields=["school", "number_tail", "number_stem"], name="horn_by_tail")),
        migrations.RunPython(forwards, migrations.RunPython.noop),
    ]
