"""Where a horn is, as the one reader says it: the code of the release before goes on reading the column it knows."""

from django.db import migrations, models
from django.db.models import Case, Q, Value, When

WAS = models.GeneratedField(
    db_persist=True,
    db_column="where",
    expression=Case(
        When(withdrawn_on__isnull=False, then=Value("withdrawn")),
        When(not_found_on__isnull=False, then=Value("not-found")),
        When(~Q(holder_name=""), then=Value("out")),
        When(on_bench=True, then=Value("workshop")),
        default=Value("cupboard"),
    ),
    output_field=models.CharField(max_length=10),
)
NOW = models.GeneratedField(
    db_persist=True,
    db_column="where_now",
    expression=Case(
        When(withdrawn_on__isnull=False, then=Value("withdrawn")),
        When(not_found_on__isnull=False, then=Value("not-found")),
        When(~Q(repairer=""), then=Value("away")),
        When(~Q(holder_name="") & Q(on_bench=True), then=Value("repair")),
        When(~Q(holder_name=""), then=Value("out")),
        When(on_bench=True, then=Value("workshop")),
        default=Value("cupboard"),
    ),
    output_field=models.CharField(
        choices=[
            ("cupboard", "in its place"),
            ("out", "out on loan"),
            ("repair", "here for repair"),
            ("workshop", "in the workshop"),
            ("away", "at the repairer’s"),
            ("not-found", "not found"),
            ("withdrawn", "withdrawn"),
        ],
        max_length=10,
    ),
)


class Migration(migrations.Migration):
    dependencies = [("register", "0017_places_in_order")]

    operations = [
        migrations.RemoveIndex("horn", "horn_by_where"),
        # The column keeps its name: only the models call it otherwise.
        migrations.SeparateDatabaseAndState(
            state_operations=[migrations.RemoveField("horn", "where"), migrations.AddField("horn", "where_before", WAS)]
        ),
        migrations.AddField("horn", "where", NOW),
        migrations.AddIndex(
            "horn",
            models.Index(fields=["school", "where", "number_stem", "number_tail", "id"], name="horn_by_where"),
        ),
    ]
