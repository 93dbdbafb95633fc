"""What is kept on a horn's row of the care it had, so that what is due is found along an index."""

from __future__ import annotations

from django.db import models


class CaredFor(models.Model):
    """The last day of each kind of care, and how long children have played the horn since: days of loans that have
    ended. Exercise is also to be played: its day is that of the last loan's end, where that is later."""

    oiled_on = models.DateField(null=True, editable=False)
    cleaned_on = models.DateField(null=True, editable=False)
    serviced_on = models.DateField(null=True, editable=False)
    exercised_on = models.DateField(null=True, editable=False)
    played_since_cleaned = models.PositiveIntegerField(default=0, db_default=0, editable=False)
    played_since_serviced = models.PositiveIntegerField(default=0, db_default=0, editable=False)

    class Meta:
        abstract = True


class CareDay(models.Func):
    """Of a horn that is here (its `where`, a day's column) that day, or the first of all days where there is none; of
    any other NULL. In words of its own, as `LastChecked`."""

    template = "CASE WHEN %(expressions)s, '0001-01-01') END"
    arg_joiner = " IN ('cupboard', 'workshop', 'repair') THEN COALESCE("
    arity = 2
    output_field = models.DateField()


# Each with what it is narrowed by last, so that a row is read only where its care is due.
CARE_INDEXES = [
    models.Index("school", CareDay("where", column), "number_stem", "number_tail", "id", *played, name=f"horn_{column}")
    for column, *played in (
        ("oiled_on",),
        ("cleaned_on", "played_since_cleaned"),
        ("serviced_on", "played_since_serviced"),
        ("exercised_on",),
    )
]
