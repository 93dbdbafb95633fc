"""People are found by any three letters of their names, and guardians by a telephone, without reading all of a school."""

from typing import Any

from django.db import migrations, models
from django.db.models import Q

from fleet.people.models.trigrams import GUARDIANS, IDS, PUPILS, make_trigrams


def forwards(apps: Any, schema_editor: Any) -> None:
    make_trigrams(schema_editor.connection, PUPILS, GUARDIANS, IDS)


class Migration(migrations.Migration):
    dependencies = [("people", "0028_classes_in_order")]

    operations = [
        migrations.AddIndex(
            "guardian",
            models.Index(condition=~Q(telephone=""), fields=["school", "telephone"], name="guardian_by_telephone"),
        ),
        migrations.RunPython(forwards, migrations.RunPython.noop),
    ]
