"""Rows of a list looked over: what each would do to the record, and what is wrong with it."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from fleet.exchange.actions.lists.base import read_rows
from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.models import Batch, Import
from fleet.exchange.queries.close_names import answers_of, with_answers
from fleet.exchange.reading.columns import Reading
from fleet.ground.languages.known import kept_in_english


# What is found wrong is kept, so it is in one language.
@kept_in_english()
def look_over(imported: Import, batch: Batch, *, at: datetime) -> None:
    """Says of each row of a batch what would become of it; the batch is not saved."""
    kind = kind_of(imported.kind)
    read = Reading(imported.school, imported.day_first, timezone.localdate(at))
    rows = [row for row in batch.rows if row["line"] > imported.header_line]
    for row in batch.rows:
        for told in ("verdict", "about", "noted"):
            row.pop(told, None)
    by_name = {column.name: column for column in kind.columns}
    values = read_rows(rows, by_name, imported.columns, read)
    answers = answers_of(imported)
    for value in values:
        with_answers(value, imported, answers)
    seen: dict[str, int] = {}
    for earlier in imported.batches.filter(place__lt=batch.place).values_list("seen", flat=True):
        seen.update(earlier)
    batch.seen = kind.check(rows, read, values, seen)
    for verdict in ("new", "changed", "same", "refused"):
        setattr(batch, verdict, sum(row["verdict"] == verdict for row in rows))
    batch.noted = len(batch.rows_noted)
