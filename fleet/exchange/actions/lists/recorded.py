"""What a list changed of those who were on record before, as the record of acts has it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.exchange.actions.lists.base import CHANGED
from fleet.exchange.models import Import
from fleet.exchange.reading.columns import Row
from fleet.people.models import Pupil, User
from fleet.record.actions.recording import About, record_many
from fleet.record.models import Deed
from fleet.record.queries.telling import said
from fleet.register.models import Horn


def record_rows(imported: Import, rows: Sequence[Row], *, by: User, at: datetime) -> None:
    """An act for each row that changed somebody on record. New ones stand in the act of the whole list, as a number."""
    changed = {row["key"]: _told(row) for row in rows if row["verdict"] == CHANGED}
    if imported.kind == "horns":
        horns = Horn.objects.in_bulk(list(changed))
        deed, acts = Deed.HORN_CHANGED, [About(told, horn=horns[key]) for key, told in changed.items()]
    elif imported.kind == "pupils":
        pupils = Pupil.objects.in_bulk(list(changed))
        deed, acts = Deed.PUPIL_CHANGED, [About(told, pupil=pupils[key]) for key, told in changed.items()]
    else:
        return
    record_many(deed=deed, school=imported.school_id, by=by, at=at, acts=acts)


def _told(row: Row) -> list[list[str]]:
    return [[name, said(row["before"].get(name)), said(after)] for name, after in row["after"].items()]
