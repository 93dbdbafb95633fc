"""Fills what register 0020 added to horns, from the notes of returns that nobody has taken back yet."""

from django.db import migrations


def fill(apps, schema_editor):
    notes = apps.get_model("loans", "ReturnNote").objects.filter(loan__returned_on=None)
    apps.get_model("register", "Horn").objects.filter(pk__in=notes.values("loan__horn")).update(noted_back=True)


class Migration(migrations.Migration):
    dependencies = [("loans", "0022_return_notes"), ("register", "0020_noted_back")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
