"""When each horn came back last, kept on its row: what nobody has had for longest is found along an index, as is how
horns play now."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("register", "0033_noted_back")]

    operations = [
        migrations.AddField("horn", "back_on", models.DateField(editable=False, null=True)),
        migrations.RemoveIndex("horn", "horn_kept_by_kind"),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(withdrawn_on=None),
                fields=["school", "build", "stands_in", "where", "may_be_lent", "grade"],
                name="horn_kept_by_kind",
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(back_on__isnull=False),
                fields=["school", "where", "back_on", "number_stem", "number_tail", "id"],
                name="horn_idle",
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(
                condition=Q(back_on=None), fields=["school", "where", "created", "id"], name="horn_never_lent"
            ),
        ),
    ]
