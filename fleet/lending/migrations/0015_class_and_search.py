"""Fills the class of who has a horn, and what horns are searched by: class, place and short number with the rest."""

from django.db import migrations

from fleet.register.models import Horn


def fill(apps, schema_editor):
    model = apps.get_model
    out = model("loans", "Loan").objects.filter(returned_on=None)
    classes = dict(out.values_list("horn_id", "pupil__group"))
    horns = model("register", "Horn").objects
    for keys in _in_parts(list(horns.order_by("pk").values_list("pk", flat=True))):
        rows = list(horns.filter(pk__in=keys).select_related("place"))
        for row in rows:
            row.holder_group = classes.get(row.pk, "")
            row.search = Horn.searched_in(row)
        horns.bulk_update(rows, ["holder_group", "search"], batch_size=100)


def _in_parts(keys):
    return (keys[at : at + 500] for at in range(0, len(keys), 500))


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0014_listed_loans"),
        ("people", "0011_search_and_order"),
        ("register", "0013_class_of_the_holder"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
