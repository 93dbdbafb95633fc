"""Columns to sort pupils by year and class as people read them, filled from both."""

from django.db import migrations, models

from fleet.ground.wording import in_reading_order


def fill(apps, schema_editor):
    rows, changed = apps.get_model("people", "Pupil").objects, []
    for row in rows.exclude(year="", group="").only("year", "group").order_by("pk").iterator(chunk_size=500):
        row.year_sorted_by = in_reading_order(row.year)[:200]
        row.group_sorted_by = in_reading_order(row.group)[:400]
        changed.append(row)
    rows.bulk_update(changed, ["year_sorted_by", "group_sorted_by"], batch_size=200)


def text(length):
    return models.CharField(db_default="", default="", editable=False, max_length=length)


class Migration(migrations.Migration):
    dependencies = [("people", "0015_telephone_beside_email")]

    operations = [
        migrations.AddField("pupil", "year_sorted_by", text(200)),
        migrations.AddField("pupil", "group_sorted_by", text(400)),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
