"""The search's trigrams: an FTS5 table with its triggers on SQLite, a GIN index on PostgreSQL."""

from typing import Any

from django.db import migrations

from fleet.register.models.searching import make_tables


def forwards(apps: Any, schema_editor: Any) -> None:
    make_tables(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("register", "0001_begin")]

    operations = [migrations.RunPython(forwards, migrations.RunPython.noop)]
