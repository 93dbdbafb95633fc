"""Letters say of which school they are: that of their guardian."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    guardians = apps.get_model("people", "Guardian").objects.filter(pk=OuterRef("guardian"))
    apps.get_model("loans", "Letter").objects.update(school=Subquery(guardians.values("school")))


class Migration(migrations.Migration):
    dependencies = [("loans", "0032_wishes_of_a_school"), ("people", "0030_apostrophes_alike")]

    operations = [
        migrations.AddField(
            "letter",
            "school",
            models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="people.school",
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
        migrations.AddIndex("letter", models.Index(fields=["school", "-made_at", "-id"], name="letter_newest")),
        migrations.AddIndex(
            "letter", models.Index(fields=["school", "state", "-made_at", "-id"], name="letter_newest_by_state")
        ),
        migrations.AddIndex("letter", models.Index(fields=["school", "sent_at"], name="letter_sent")),
        migrations.AddIndex("letter", models.Index(fields=["school", "address"], name="letter_to")),
    ]
