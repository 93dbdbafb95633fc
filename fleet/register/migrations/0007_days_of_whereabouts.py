"""A whereabouts event says from which day it holds; so far only the horn did, for its newest."""

from django.db import migrations, models
from django.utils import timezone


def fill(apps, schema_editor):
    Standing = apps.get_model("register", "Standing")
    held = {"withdrawn": "withdrawn_on", "not-found": "not_found_on"}
    newest = {}
    for standing in Standing.objects.select_related("horn").order_by("pk").iterator():
        standing.on = timezone.localdate(standing.at)
        standing.save(update_fields=["on"])
        newest[standing.horn_id, standing.kind in {"withdrawn", "kept-again"}] = standing
    for standing in newest.values():
        day = getattr(standing.horn, held.get(standing.kind, ""), None) if standing.kind in held else None
        if day is not None and day != standing.on:
            standing.on = day
            standing.save(update_fields=["on"])


class Migration(migrations.Migration):
    dependencies = [("register", "0006_words_of_the_worst_grade")]

    operations = [
        migrations.AddField("standing", "on", models.DateField(null=True)),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
