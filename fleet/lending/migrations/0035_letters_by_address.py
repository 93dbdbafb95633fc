"""The addresses that letters went to are looked up by three letters and more."""

from typing import Any

from django.db import migrations

from fleet.people.models.trigrams import make_trigrams


def forwards(apps: Any, schema_editor: Any) -> None:
    make_trigrams(schema_editor.connection, "loans_letter.address")


class Migration(migrations.Migration):
    dependencies = [("loans", "0034_years_of_loans")]

    operations = [migrations.RunPython(forwards, migrations.RunPython.noop)]
