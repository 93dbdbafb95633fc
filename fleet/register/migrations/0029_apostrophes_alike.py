"""Horns are found whichever apostrophe is typed: what is searched in has the typewriter's alone."""

from typing import Any

from django.db import migrations
from django.db.models import Value
from django.db.models.functions import Replace


def alike(apps: Any, schema_editor: Any) -> None:
    rows = apps.get_model("register", "Horn").objects
    for sign in "’ʼ":
        changed = Replace("search", Value(sign), Value("'"))
        rows.filter(search__contains=sign).update(search=changed)


class Migration(migrations.Migration):
    dependencies = [("register", "0028_horns_kept_by_kind")]

    operations = [migrations.RunPython(alike, migrations.RunPython.noop, elidable=True)]
