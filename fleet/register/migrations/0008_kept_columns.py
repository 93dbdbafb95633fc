"""More of what is so about a horn is kept on its row: filled by loans 0010, where all rows are known.

The code of the release before goes on writing horns and events meanwhile, and names none of this: the database does.
"""

from django.db import migrations, models
from django.db.models import Case, Q, Value, When


class Migration(migrations.Migration):
    dependencies = [("register", "0007_days_of_whereabouts")]

    operations = [
        migrations.AlterField(
            "standing",
            "on",
            models.DateField(
                db_default=models.Func(
                    function="CURRENT_DATE", output_field=models.DateField(), template="%(function)s"
                ),
                default=None,
            ),
        ),
        migrations.AddField(
            "horn", "repairer", models.CharField(db_default="", default="", editable=False, max_length=120)
        ),
        migrations.AddField("horn", "mended_on", models.DateField(editable=False, null=True)),
        migrations.AddField(
            "horn", "mouthpiece_owed", models.BooleanField(db_default=False, default=False, editable=False)
        ),
        migrations.AddField(
            "horn", "promised_to", models.CharField(db_default="", default="", editable=False, max_length=120)
        ),
        # The generated column before its index: the other way round the index has nothing to be on.
        migrations.AddField(
            "horn",
            "may_be_lent",
            models.GeneratedField(
                db_persist=True,
                expression=Case(
                    When(
                        Q(withdrawn_on=None, not_found_on=None, holder_name="", on_bench=False, test_note_owed=False)
                        & Q(grade__lt=3, mouthpiece_owed=False, promised_to="")
                        & ~Q(build=""),
                        then=Value(True),
                    ),
                    default=Value(False),
                ),
                output_field=models.BooleanField(),
            ),
        ),
        migrations.AddIndex(
            "horn",
            models.Index(fields=["school", "may_be_lent", "number_stem", "number_tail", "id"], name="horn_may_be_lent"),
        ),
    ]
