"""Fills what register 0008 added to horns, from the rows of loans, jobs, checks and signatures."""

from django.db import migrations
from django.utils import timezone


def fill(apps, schema_editor):
    model = apps.get_model
    changes = {}

    def keep(horn, **columns):
        changes.setdefault(horn, {}).update(columns)

    ended = model("loans", "Loan").objects.exclude(returned_on=None).order_by("returned_on", "pk")
    for horn, cleaned in ended.values_list("horn_id", "mouthpiece_cleaned_on"):
        keep(horn, mouthpiece_owed=cleaned is None)
    unused = model("loans", "OnlineSignature").objects.filter(withdrawn_at=None, loan=None).order_by("asked_at", "pk")
    for horn, name in unused.values_list("horn_id", "pupil__name"):
        keep(horn, promised_to=name)
    jobs = model("workshop", "RepairJob").objects
    for horn, repairer in jobs.filter(closed_at=None, state="away").values_list("horn_id", "repairer"):
        keep(horn, repairer=repairer)
    looked = {}
    for horn, at in model("workshop", "ConditionCheck").objects.order_by("at").values_list("horn_id", "at"):
        looked[horn] = at
    again = set(jobs.filter(closed_at=None).values_list("horn_id", flat=True))
    for horn, closed in jobs.filter(state="done").order_by("closed_at", "pk").values_list("horn_id", "closed_at"):
        if horn not in again and (horn not in looked or closed > looked[horn]):
            keep(horn, mended_on=timezone.localdate(closed))
    Horn = model("register", "Horn")
    for horn, columns in changes.items():
        Horn.objects.filter(pk=horn).update(**columns)


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0009_page_on_a_line"),
        ("register", "0008_kept_columns"),
        ("workshop", "0008_words_of_the_worst_grade"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
