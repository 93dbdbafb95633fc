"""The search's trigrams: an FTS5 table with its triggers on SQLite, a GIN index on PostgreSQL."""

from typing import Any

from django.db import migrations

from fleet.people.models.trigrams import make_trigrams
from fleet.register.models.searching import HORNS, NUMBERS, make_order


def forwards(apps: Any, schema_editor: Any) -> None:
    make_trigrams(schema_editor.connection, HORNS, NUMBERS)
    make_order(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("register", "0001_begin")]

    operations = [migrations.RunPython(forwards, migrations.RunPython.noop)]
