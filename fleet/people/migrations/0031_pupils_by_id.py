"""The schools' own ids of pupils are looked up by what they begin with."""

from typing import Any

from django.db import migrations

from fleet.people.models.trigrams import IDS, make_trigrams


def forwards(apps: Any, schema_editor: Any) -> None:
    make_trigrams(schema_editor.connection, IDS)


class Migration(migrations.Migration):
    dependencies = [("people", "0030_apostrophes_alike")]

    operations = [migrations.RunPython(forwards, migrations.RunPython.noop)]
