"""What an import needs while it is looked over, written and perhaps undone; and how a school's columns were matched."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.db.models import F, Q

from fleet.exchange.reading.told import told
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User

# Rows of one batch are checked together and written in one transaction: all of them or none.
BATCH = 500


class ListKey(models.TextChoices):
    HORNS = "horns", _s_lazy("Horns")
    PUPILS = "pupils", _s_lazy("Pupils and their guardians")
    RUNNING_LOANS = "running", _s_lazy("Running loans: who has which horn now")
    PAST_LOANS = "past-loans", _s_lazy("Past loans")


class RememberedColumns(models.Model):
    """Which heading meant which column, the last time a list of this kind came in."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=12, choices=ListKey)
    columns = models.JSONField(default=dict)
    day_first = models.BooleanField(default=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["school", "kind"], name="columns_remembered_once")]


class ImportQuerySet(models.QuerySet["Import"]):
    def at(self, school: School) -> ImportQuerySet:
        return self.filter(school=school)


class Import(models.Model):
    """One file on its way in."""

    class State(models.TextChoices):
        READING = "reading", _s_lazy("being read")
        COLUMNS = "columns", _s_lazy("columns to match")
        CHECKING = "checking", _s_lazy("being looked over")
        CHECKED = "checked", _s_lazy("to be looked at")
        WRITING = "writing", _s_lazy("being written")
        WRITTEN = "written", _s_lazy("written")
        UNDONE = "undone", _s_lazy("undone")

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="imports")
    kind = models.CharField(max_length=12, choices=ListKey)
    name = models.CharField("file", max_length=120)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.COLUMNS)
    # The first rows, to tell which of them has the headings.
    top = models.JSONField(default=list)
    # What to know of how the file was read, as (sentence, what is filled in).
    notes = models.JSONField(default=list)
    header_line = models.PositiveIntegerField(default=1)
    # For each column of the file the field it fills, or "".
    columns = models.JSONField(default=list)
    day_first = models.BooleanField(default=True)
    rows = models.PositiveIntegerField(default=0)
    written_at = models.DateTimeField(null=True)
    # Names in it that are close to others, as [said, close to]; and what they were said to mean, as [said, meant].
    questions = models.JSONField(default=list, db_default=[])
    answers = models.JSONField(default=list, db_default=[])

    objects = ImportQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school"],
                condition=Q(state="writing"),
                name="one_import_written_at_a_time",
                violation_error_message=_s_lazy("Another list is being written at this moment."),
            ),
        ]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def notes_told(self) -> list[str]:
        """The notes in the reader's language; those of before they were kept apart are whole sentences."""
        return [told(note) if isinstance(note, str) else told(*note) for note in self.notes]

    @property
    def headings(self) -> list[str]:
        """The words above each column, as the file has them."""
        return next((cells for line, cells in self.top if line == self.header_line), [])


class Batch(models.Model):
    """Some rows of an import: what the file says, what would become of each, and what is needed to undo it.

    Each of `rows` has `line`, `cells`, in `said` what the file had in those typed anew (by place), and once looked over
    `verdict` (new, changed, same, refused), `wrong` and `noted` (what is left empty) as (heading, value, sentence, what
    is filled in, …), `key` of the record, `before` and `after` by column; `about` where those are keys.
    """

    batch_of = models.ForeignKey(Import, on_delete=models.CASCADE, related_name="batches")
    place = models.PositiveIntegerField()
    rows = models.JSONField(default=list)
    checked = models.BooleanField(default=False)
    written = models.BooleanField(default=False)
    # What tells records of this kind apart, with the line it was first met in.
    seen = models.JSONField(default=dict)
    new = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    same = models.PositiveIntegerField(default=0)
    refused = models.PositiveIntegerField(default=0)
    # Rows that come in with a cell left empty that could not be read.
    noted = models.PositiveIntegerField(default=0, db_default=0)
    # What was made besides the rows' own records.
    made = models.JSONField(default=dict)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["batch_of", "place"], name="batch_place_once")]
        ordering = ["place"]

    def rows_that_are(self, *verdicts: str) -> list[dict[str, Any]]:
        return [row for row in self.rows if row.get("verdict") in verdicts]

    @property
    def rows_noted(self) -> list[dict[str, Any]]:
        return [row for row in self.rows if row.get("noted") and row.get("verdict") in {"new", "changed", "same"}]


class Closing(models.Model):
    """A school that is to leave this site: proposed by one person, agreed to by another. It goes with the school."""

    # So long after the second word either can take it back.
    WAITS = timedelta(days=1)

    school = models.OneToOneField(School, on_delete=models.CASCADE, related_name="closing")
    reason = models.CharField(max_length=300)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField(null=True)
    agreed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(agreed_by=None) | ~Q(agreed_by=F("proposed_by")),
                name="closing_by_two_people",
                violation_error_message="Somebody else than who proposed it agrees.",
            ),
            models.CheckConstraint(
                condition=Q(agreed_at=None, agreed_by=None)
                | Q(agreed_at__gte=F("proposed_at"), agreed_by__isnull=False),
                name="closing_agreed_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"Closing {self.school}"

    @property
    def closes_from(self) -> datetime | None:
        """The moment from which the next night closes the school; None while one person only says so."""
        return self.agreed_at and self.agreed_at + self.WAITS
