from django.db import migrations, models

from fleet.counting.models.counts import read_title


def fill(apps, schema_editor):
    counts = apps.get_model("counting", "Count").objects
    for key, kind, title in counts.exclude(kind="everything").values_list("pk", "kind", "title"):
        place_words, drawn = read_title(kind, title)
        counts.filter(pk=key).update(place_words=place_words, drawn=drawn)


class Migration(migrations.Migration):
    dependencies = [
        ("counting", "0004_words_of_repair"),
    ]

    operations = [
        migrations.AddField(
            model_name="count",
            name="place_words",
            field=models.CharField(blank=True, db_default="", default="", max_length=191),
        ),
        migrations.AddField(
            model_name="count",
            name="drawn",
            field=models.PositiveIntegerField(null=True),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
