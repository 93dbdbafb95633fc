"""Fills what register 0026 added to horns, from the care that was noted and the loans that have ended."""

from datetime import date

from django.db import migrations
from django.db.models import DateField, Max, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Greatest, NullIf

from fleet.ground.due import DaysBetween

NEVER = Value(date.min, output_field=DateField())


def fill(apps, schema_editor):
    horns, care = apps.get_model("register", "Horn").objects, apps.get_model("workshop", "Care").objects
    ended = apps.get_model("loans", "Loan").objects.filter(horn=OuterRef("pk"), returned_on__isnull=False).order_by()

    def last(kind):
        noted = care.filter(horn=OuterRef("pk"), kind=kind).order_by("-on")
        return Coalesce(Subquery(noted.values("on")[:1]), NEVER)

    def played(since):
        # The horn stands outside of the loans, which are added up.
        begun = Greatest("issued_on", Coalesce(OuterRef(since), NEVER))
        days = Sum(Greatest(DaysBetween(begun, "returned_on"), 0))
        return Coalesce(Subquery(ended.values("horn").annotate(days=days).values("days")), 0)

    back = Coalesce(Subquery(ended.values("horn").annotate(on=Max("returned_on")).values("on")), NEVER)
    horns.update(
        oiled_on=NullIf(last("oil"), NEVER),
        cleaned_on=NullIf(last("clean"), NEVER),
        serviced_on=NullIf(last("service"), NEVER),
        exercised_on=NullIf(Greatest(last("exercise"), back), NEVER),
    )
    horns.update(played_since_cleaned=played("cleaned_on"), played_since_serviced=played("serviced_on"))


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0025_recalled_and_unsigned"),
        ("register", "0026_care_kept"),
        ("workshop", "0020_exercise"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
