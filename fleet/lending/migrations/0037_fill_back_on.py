"""Fills what register 0034 added to horns, from the loans that have ended."""

from django.db import migrations
from django.db.models import OuterRef, Subquery


def fill(apps, schema_editor):
    ended = apps.get_model("loans", "Loan").objects.filter(horn=OuterRef("pk"), returned_on__isnull=False)
    last = ended.order_by("-returned_on").values("returned_on")
    apps.get_model("register", "Horn").objects.update(back_on=Subquery(last[:1]))


class Migration(migrations.Migration):
    dependencies = [("loans", "0036_letters_to_sign"), ("register", "0034_back_on")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
