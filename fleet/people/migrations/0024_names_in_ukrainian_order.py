"""Names in letters that other alphabets lack, put where the Ukrainian one has them, and O’Neil under o."""

from django.db import migrations
from django.db.models import Q

from fleet.people.models.searched import in_order


def fill(apps, schema_editor):
    # Some databases know small and capital letters of this alphabet, some do not.
    moved = Q()
    for letter in "ґєіїйҐЄІЇЙ'’ʼ":
        moved |= Q(name__contains=letter)
    for name in ("Pupil", "Guardian"):
        rows, changed = apps.get_model("people", name).objects, []
        for row in rows.filter(moved).order_by("pk").iterator(chunk_size=500):
            row.sorted_by = in_order(row.name, getattr(row, "family_name", ""))[:400]
            changed.append(row)
        rows.bulk_update(changed, ["sorted_by"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("people", "0023_own_words")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
