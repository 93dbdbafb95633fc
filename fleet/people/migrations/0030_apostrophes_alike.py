"""People are found whichever apostrophe is typed: what is searched in has the typewriter's alone."""

from typing import Any

from django.db import migrations
from django.db.models import Value
from django.db.models.functions import Replace


def alike(apps: Any, schema_editor: Any) -> None:
    for name in ("Guardian", "Pupil"):
        rows = apps.get_model("people", name).objects
        for sign in "’ʼ":
            changed = Replace("search", Value(sign), Value("'"))
            rows.filter(search__contains=sign).update(search=changed)


class Migration(migrations.Migration):
    dependencies = [("people", "0029_people_by_words")]

    operations = [migrations.RunPython(alike, migrations.RunPython.noop, elidable=True)]
