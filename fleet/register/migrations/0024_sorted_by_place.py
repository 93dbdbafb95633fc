"""What horns are sorted by when they are sorted by place, on their own rows, filled from the places."""

from django.db import migrations, models


def fill(apps, schema_editor):
    horns = apps.get_model("register", "Horn").objects
    for key, order in apps.get_model("register", "Place").objects.values_list("pk", "sorted_by"):
        horns.filter(place=key).update(place_order=order[:200])


class Migration(migrations.Migration):
    dependencies = [("register", "0023_recalled_and_last_checked")]

    operations = [
        migrations.AddField("horn", "place_order", models.CharField(editable=False, max_length=200, null=True)),
        migrations.AddIndex(
            "horn",
            models.Index(
                fields=["school", "place_order", "number_stem", "number_tail", "id"], name="horn_by_place_order"
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
