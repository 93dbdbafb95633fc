"""When a horn last had each kind of care, kept on its row, with the indexes that find what is due. Further indexes: of what
may be lent, by kind, in the order of numbers; of horns by what their charts hang on; of places as they are read."""

from django.db import migrations, models
from django.db.models import F

from fleet.register.models.cared import CareDay


def a_day(name):
    return migrations.AddField("horn", name, models.DateField(editable=False, null=True))


def days_of_loans(name):
    return migrations.AddField("horn", name, models.PositiveIntegerField(db_default=0, default=0, editable=False))


def found_by(day, *played):
    fields = [F(name) for name in ("number_stem", "number_tail", "id", *played)]
    return migrations.AddIndex("horn", models.Index(F("school"), CareDay("where", day), *fields, name=f"horn_{day}"))


class Migration(migrations.Migration):
    dependencies = [("register", "0025_kinds_to_lend")]

    operations = [
        a_day("oiled_on"),
        a_day("cleaned_on"),
        a_day("serviced_on"),
        a_day("exercised_on"),
        days_of_loans("played_since_cleaned"),
        days_of_loans("played_since_serviced"),
        found_by("oiled_on"),
        found_by("cleaned_on", "played_since_cleaned"),
        found_by("serviced_on", "played_since_serviced"),
        found_by("exercised_on"),
        migrations.RemoveIndex("horn", "horn_kinds_to_lend"),
        migrations.AddIndex(
            "horn",
            models.Index(
                fields=["school", "may_be_lent", "build", "wrap", "stands_in", "number_stem", "number_tail", "id"],
                name="horn_kinds_to_lend",
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(
                fields=["school", "build", "stands_in", "fourth_valve", "fifth_valve", "withdrawn_on", "number"],
                name="horn_charts",
            ),
        ),
        migrations.AddIndex("place", models.Index(fields=["school", "sorted_by", "id"], name="place_in_order")),
    ]
