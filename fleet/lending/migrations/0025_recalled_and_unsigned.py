"""Fills what register 0023 added to horns, from the newest move of each running loan's due date, and finds unsigned loans
by an index."""

from django.db import migrations, models
from django.db.models import OuterRef, Q, Subquery


def fill(apps, schema_editor):
    newest = apps.get_model("loans", "LoanPeriod").objects.filter(loan=OuterRef("pk")).order_by("-at", "-pk")
    out = apps.get_model("loans", "Loan").objects.filter(returned_on=None)
    recalled = out.annotate(moved=Subquery(newest.values("kind")[:1])).filter(moved="recalled")
    apps.get_model("register", "Horn").objects.filter(pk__in=recalled.values("horn")).update(recalled=True)


class Migration(migrations.Migration):
    dependencies = [("loans", "0024_family_calendar"), ("register", "0023_recalled_and_last_checked")]

    operations = [
        migrations.AddIndex(
            "loan",
            models.Index(condition=Q(returned_on=None, signed_on=None), fields=["horn"], name="loan_unsigned"),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
