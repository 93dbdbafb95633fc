"""The indexes of the horn's row, each for a question that the lists or Today ask."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.register.models.cared import CARE_INDEXES


class LastChecked(models.Func):
    """The day in that column, or the first of all days where there is none. In words of its own, since SQLite finds an
    index by an expression only where both are written alike."""

    template = "COALESCE(%(expressions)s, '0001-01-01')"
    arity = 1
    output_field = models.DateField()


INDEXES = [
    # Each covers a filter and a sort of the list with its tie-breaks, so that a page's ids come from the index.
    models.Index(fields=["school", "number_stem", "number_tail", "id"], name="horn_by_number"),
    # A number typed without what stands between its letters and its figures.
    models.Index(fields=["school", "number_tail", "number_stem"], name="horn_by_tail"),
    models.Index(fields=["school", "place", "number_stem", "number_tail", "id"], name="horn_by_place"),
    models.Index(fields=["school", "place_order", "number_stem", "number_tail", "id"], name="horn_by_place_order"),
    models.Index(fields=["school", "build", "number_stem", "number_tail", "id"], name="horn_by_build"),
    models.Index(fields=["school", "stands_in", "number_stem", "number_tail", "id"], name="horn_by_stand"),
    models.Index(fields=["school", "where", "number_stem", "number_tail", "id"], name="horn_by_where"),
    models.Index(fields=["school", "grade", "number_stem", "number_tail", "id"], name="horn_by_grade"),
    models.Index(fields=["school", "holder_name", "number_stem", "number_tail", "id"], name="horn_by_holder"),
    models.Index(fields=["school", "holder_group", "number_stem", "number_tail", "id"], name="horn_by_class"),
    models.Index(fields=["school", "due_on", "number_stem", "number_tail", "id"], name="horn_by_due"),
    # With all that says which grade a horn had on a day.
    models.Index(
        fields=[
            *("school", "checked_on", "number_stem", "number_tail", "id"),
            *("grade", "created", "acquired_on", "withdrawn_on", "struck_out"),
        ],
        name="horn_by_check",
    ),
    models.Index(fields=["school", "may_be_lent", "number_stem", "number_tail", "id"], name="horn_may_be_lent"),
    # How many of each kind may be lent and which are the first, which is asked for whoever waits.
    models.Index(
        fields=["school", "may_be_lent", "build", "wrap", "stands_in", "number_stem", "number_tail", "id"],
        name="horn_kinds_to_lend",
    ),
    # The sorts of horns that have a chart each, with how many there are and the first number.
    models.Index(
        fields=["school", "build", "stands_in", "fourth_valve", "fifth_valve", "withdrawn_on", "number"],
        name="horn_charts",
    ),
    # How many of each sort are kept, where they are, how many of them may be lent, and how they play.
    models.Index(
        fields=["school", "build", "stands_in", "where", "may_be_lent", "grade"],
        name="horn_kept_by_kind",
        condition=Q(withdrawn_on=None),
    ),
    # SQLite takes it only where it holds all that is asked.
    models.Index(
        fields=["school", "withdrawn_on", "id", "teaches", "build"],
        name="horn_teaches",
        condition=Q(teaches=True),
    ),
    # Whose check is due: what was never checked has no day to be found by, so the day is one that comes before all.
    models.Index(
        "school", "where", LastChecked("checked_on"), "number_stem", "number_tail", "id", name="horn_by_check_needed"
    ),
    # Few horns at a time wait for these, so that Today finds them without reading all others.
    models.Index(fields=["school", "mended_on", "id"], name="horn_mended", condition=Q(mended_on__isnull=False)),
    models.Index(fields=["school", "due_on", "id"], name="horn_recalled", condition=Q(recalled=True)),
    models.Index(fields=["school", "due_on", "id"], name="horn_noted", condition=Q(noted_back=True)),
    models.Index(
        fields=["school", "number_stem", "number_tail", "id"],
        name="horn_mouthpiece",
        condition=Q(mouthpiece_owed=True),
    ),
    models.Index(
        fields=["school", "number_stem", "number_tail", "id"],
        name="horn_test_note",
        condition=Q(test_note_owed=True),
    ),
    # What nobody has had for longest: of what was lent since its last return, of the other since it came.
    models.Index(
        fields=["school", "where", "back_on", "number_stem", "number_tail", "id"],
        name="horn_idle",
        condition=Q(back_on__isnull=False),
    ),
    models.Index(fields=["school", "where", "created", "id"], name="horn_never_lent", condition=Q(back_on=None)),
    # What horns of a kind cost, told by the few whose price is on record.
    models.Index(fields=["school", "id"], name="horn_priced", condition=Q(price__isnull=False)),
    *CARE_INDEXES,
]
