"""A column to sort places by as people read them, filled from their words."""

from django.db import migrations, models

from fleet.ground.wording import in_reading_order


def fill(apps, schema_editor):
    for place in apps.get_model("register", "Place").objects.order_by("pk").iterator(chunk_size=500):
        place.sorted_by = in_reading_order(place.room, place.shelf)[:800]
        place.save(update_fields=["sorted_by"])


class Migration(migrations.Migration):
    dependencies = [("register", "0016_walk_sent_once")]

    operations = [
        migrations.AddField(
            "place",
            "sorted_by",
            models.CharField(db_default="", default="", editable=False, max_length=800),
        ),
        migrations.AlterModelOptions("place", {"ordering": ["sorted_by", "pk"]}),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
