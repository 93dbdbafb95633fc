"""Columns to search and sort people by, filled from their names."""

from django.db import migrations, models

from fleet.ground.wording import folded
from fleet.people.models.searched import in_order


def fill(apps, schema_editor):
    for model, columns in (("Pupil", ("name", "group")), ("Guardian", ("name",))):
        rows = apps.get_model("people", model).objects
        changed = []
        for row in rows.only(*columns).order_by("pk").iterator(chunk_size=500):
            row.search = folded(" ".join(getattr(row, column) for column in columns))
            row.sorted_by = in_order(row.name)
            changed.append(row)
        rows.bulk_update(changed, ["search", "sorted_by"], batch_size=200)


def text(length):
    return models.CharField(db_default="", default="", editable=False, max_length=length)


class Migration(migrations.Migration):
    dependencies = [("people", "0010_words_with_apostrophes")]

    operations = [
        migrations.AddField("guardian", "search", text(400)),
        migrations.AddField("guardian", "sorted_by", text(400)),
        migrations.AddField("pupil", "search", text(400)),
        migrations.AddField("pupil", "sorted_by", text(400)),
        migrations.AddField(
            "pupil",
            "family_name",
            models.CharField(
                blank=True,
                db_default="",
                default="",
                help_text="Lists are sorted by it: García López of Ana García López.",
                max_length=120,
                verbose_name="family name, where it is not the last word",
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
        migrations.AddIndex("pupil", models.Index(fields=["school", "sorted_by", "id"], name="pupil_in_order")),
    ]
