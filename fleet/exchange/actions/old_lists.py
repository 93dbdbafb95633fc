"""Lists that nobody writes any more, and rows that no undo needs any more: they go when another list comes in."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleet.exchange.models import Batch, Import
from fleet.exchange.queries.imports import State
from fleet.people.models import School

# Lists hold names and addresses: what nobody writes or needs for an undo does not stay.
KEPT_UNWRITTEN = timedelta(days=7)
KEPT_FOR_UNDO = timedelta(days=60)


def forget_old(*, school: School, at: datetime) -> tuple[int, int]:
    """Removes lists that lay unwritten or undone for a week, and the rows of an import too old to be undone.

    Returns how many of each there were.
    """
    unwritten, rows = _old(school, at)
    told = len(unwritten), len(rows)
    Import.objects.filter(pk__in=unwritten).delete()
    Batch.objects.filter(batch_of__in=rows).delete()
    return told


def would_forget(*, school: School, at: datetime) -> tuple[int, int]:
    """What `forget_old` would remove: how many lists, and of how many imports the rows."""
    unwritten, rows = _old(school, at)
    return len(unwritten), len(rows)


def _old(school: School, at: datetime) -> tuple[list[int], list[int]]:
    idle = [State.READING, State.COLUMNS, State.CHECKING, State.CHECKED, State.UNDONE]
    imports = Import.objects.at(school)
    unwritten = imports.filter(state__in=idle, at__lt=at - KEPT_UNWRITTEN).exclude(batches__written=True)
    done = imports.filter(state=State.WRITTEN, written_at__lt=at - KEPT_FOR_UNDO, batches__isnull=False)
    return list(unwritten.values_list("pk", flat=True)), list(done.values_list("pk", flat=True).distinct())
