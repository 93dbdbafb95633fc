"""An import's life: taken in, columns matched, looked over, written, undone. Each step is short and can be cut off.

Looking over and writing go batch by batch. A batch is written with its records in one transaction, so that an
import that was cut off goes on where it stopped, and nothing is there half.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import islice
from typing import IO, Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import CHANGED, NEW, Stale
from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.actions.lists.recorded import record_rows
from fleet.exchange.actions.looking_over import look_over
from fleet.exchange.actions.measuring import measure_tables
from fleet.exchange.actions.old_lists import forget_old
from fleet.exchange.models import BATCH, Batch, Import, RememberedColumns
from fleet.exchange.queries.close_names import questions_of
from fleet.exchange.queries.imports import State, may_undo, totals
from fleet.exchange.reading.bounds import Notes
from fleet.exchange.reading.file import lines_of
from fleet.exchange.reading.headings import header_of, suggest
from fleet.ground.refusal import Refused
from fleet.ground.wording import plain_words
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import worded

TOP = 15


def take_in(*, school: School, kind: str, file: IO[bytes], name: str, by: User, at: datetime) -> Import:
    """Reads a file into batches of rows; nothing of it is on record yet. Refused when it cannot be read.

    The rows go to the database as they are read, not all at once, so that neither memory nor other writers suffer.
    """
    forget_old(school=school, at=at)
    imported = Import.objects.create(school=school, kind=kind, name=name[-120:], by=by, at=at, state=State.READING)
    try:
        _read(imported, file)
    except BaseException:
        imported.delete()
        raise
    return imported


def _read(imported: Import, file: IO[bytes]) -> None:
    notes = Notes()
    lines = lines_of(file, notes)
    top: list[tuple[int, list[str]]] = []
    place = 0
    while chunk := list(islice(lines, BATCH)):
        top += chunk[: max(0, TOP - len(top))]
        imported.rows += len(chunk)
        rows = [{"line": line, "cells": cells} for line, cells in chunk]
        Batch.objects.create(batch_of=imported, place=place, rows=rows)
        place += 1
    if imported.rows < 2:
        raise Refused(_s("There is no list in this file: it needs a row of headings and at least one row below it."))
    columns = kind_of(imported.kind).columns
    imported.top, imported.notes = top, [list(one) for one in notes.sentences]
    imported.header_line = header_of(top, columns)
    remembered = _remembered(imported)
    imported.day_first = remembered.day_first
    imported.columns = suggest(imported.headings, columns, remembered.columns)
    imported.state = State.COLUMNS
    imported.save()


def _remembered(imported: Import) -> RememberedColumns:
    found = RememberedColumns.objects.filter(school=imported.school_id, kind=imported.kind).first()
    return found or RememberedColumns(school=imported.school, kind=imported.kind)


@transaction.atomic
def choose_header(*, imported: Import, line: int) -> None:
    """Another row has the headings; the columns are suggested anew."""
    now = _locked(imported, State.COLUMNS, State.CHECKED)
    if line not in {number for number, _ in now.top}:
        raise Refused(_s("Choose one of the first rows."))
    now.header_line = line
    now.columns = suggest(now.headings, kind_of(now.kind).columns, _remembered(now).columns)
    now.state = State.COLUMNS
    now.save()


@transaction.atomic
def match_columns(*, imported: Import, columns: Sequence[str], day_first: bool) -> None:
    """Says what each column of the file means, remembers it for the next list, and starts the looking over."""
    now = _locked(imported, State.COLUMNS, State.CHECKED)
    known = {column.name: column for column in kind_of(now.kind).columns}
    taken = [name for name in columns if name]
    for name in taken:
        if name not in known:
            raise Refused(_s("Choose what each column means from the list."))
        if taken.count(name) > 1:
            raise Refused(
                _s("Two columns are taken for “%(column)s”. Choose one of them.") % {"column": known[name].said}
            )
    missing = [column.said for column in known.values() if column.required and column.name not in taken]
    if missing:
        raise Refused(_s("Say which column is “%(column)s”.") % {"column": missing[0]})
    now.columns, now.day_first = list(columns), day_first
    _look_again(now)
    headings = zip(now.headings, columns, strict=False)
    said = {plain_words(heading): name for heading, name in headings if heading}
    kept = _remembered(now)
    RememberedColumns.objects.update_or_create(
        school=now.school, kind=now.kind, defaults={"columns": {**kept.columns, **said}, "day_first": day_first}
    )


def _look_again(imported: Import) -> None:
    imported.state, imported.questions = State.CHECKING, []
    imported.save()
    imported.batches.filter(written=False).update(checked=False)


@transaction.atomic
def settle_names(*, imported: Import, answers: Sequence[Sequence[Sequence[str]]]) -> None:
    """Says what names that are close to others mean, as [said, meant], and looks the list over again with that."""
    now = _locked(imported, State.CHECKED)
    said = [list(one) for one, _ in answers]
    now.answers = [*(one for one in now.answers if one[0] not in said), *([list(a), list(b)] for a, b in answers)]
    _look_again(now)


@transaction.atomic
def correct_cells(*, imported: Import, cells: Mapping[int, Mapping[int, str]]) -> int:
    """Cells typed anew, by line and place of the column; returns how many. The list is looked over again with them.

    What the file said stays in the row's `said`. Of rows that are written by now nothing is changed.
    """
    now, typed = _locked(imported, State.CHECKED), 0
    for batch in now.batches.filter(written=False):
        mine = [row for row in batch.rows if row["line"] in cells]
        for row in mine:
            for place, text in cells[row["line"]].items():
                row["cells"] += [""] * (place + 1 - len(row["cells"]))
                row.setdefault("said", {}).setdefault(str(place), row["cells"][place])
                row["cells"][place] = text
                typed += 1
        if mine:
            batch.save(update_fields=["rows"])
    if not typed:
        raise Refused(_s("Nothing is typed anew."))
    _look_again(now)
    return typed


def look_over_next(*, imported: Import, at: datetime) -> bool:
    """Looks one batch over; nothing is on record yet. False when none is left and the preview is ready."""
    batch = imported.batches.filter(checked=False, written=False).first()
    if batch is not None:
        look_over(imported, batch, at=at)
    with transaction.atomic():
        now = _locked(imported, State.CHECKING)
        if batch is not None:
            # Somebody may have matched columns or typed cells anew meanwhile: what was looked over is out of date.
            read_as = (imported.columns, imported.day_first, imported.answers)
            cells = now.batches.filter(pk=batch.pk).values_list("rows", flat=True).first() or []
            if read_as != (now.columns, now.day_first, now.answers) or _cells(cells) != _cells(batch.rows):
                return True
            batch.checked = True
            batch.save()
            if now.batches.filter(checked=False, written=False).exists():
                return True
        now.state, now.questions = State.CHECKED, questions_of(now)
        left = totals(now)
        if now.batches.filter(written=True).exists() and not left["new"] + left["changed"]:
            # Looked over again in the middle of writing, and nothing is left to write.
            now.state, now.written_at = State.WRITTEN, at
        now.save(update_fields=["state", "written_at", "questions"])
    return False


def _cells(rows: Sequence[Mapping[str, Any]]) -> list[Any]:
    return [row["cells"] for row in rows]


@transaction.atomic
def begin_writing(*, imported: Import) -> None:
    """Opens the writing. Refused while another list of the school is being written."""
    locked_school(imported.school_id)
    now = _locked(imported, State.CHECKED)
    counted = totals(now)
    if not counted["new"] + counted["changed"]:
        raise Refused(_s("There is nothing to write: no row is new or changed."))
    if now.questions:
        raise Refused(_s("Say first what the names mean that are close to others."))
    other = Import.objects.at(now.school).filter(state=State.WRITING).exclude(pk=now.pk).first()
    if other is not None:
        raise Refused(
            _s("“%(list)s” is being written at this moment. Wait until it is done, or undo it on its page.")
            % {"list": other}
        )
    now.state = State.WRITING
    try:
        with transaction.atomic():
            now.save(update_fields=["state"])
    except IntegrityError as trouble:
        raise Refused(_s("Another list is being written at this moment. Wait until it is done.")) from trouble


def write_next(*, imported: Import, by: User, at: datetime) -> bool:
    """Writes one batch, all of it or nothing. False when none is left.

    Refused, with the batch to be looked over again, where a record was changed since the preview.
    """
    try:
        with transaction.atomic():
            # Register numbers are given out one at a time; two writers wait for each other here.
            locked_school(imported.school_id)
            now = _locked(imported, State.WRITING)
            batch = now.batches.filter(written=False).first()
            if batch is not None:
                rows = batch.rows_that_are(NEW, CHANGED)
                if rows:
                    batch.made = kind_of(now.kind).write(rows, school=now.school, by=by, at=at)
                    record_rows(now, rows, by=by, at=at)
                batch.written = True
                batch.save()
                if now.batches.filter(written=False).exists():
                    return True
            now.state, now.written_at = State.WRITTEN, at
            now.save(update_fields=["state", "written_at"])
            _record(now, Deed.LIST_WRITTEN, by, at)
            _forget_older(now)
        if now.rows > BATCH:
            measure_tables()
    except (Stale, IntegrityError) as since:
        with transaction.atomic():
            now = _locked(imported, State.WRITING)
            now.batches.filter(written=False).update(checked=False)
            now.state = State.CHECKING
            now.save(update_fields=["state"])
        raise Refused(
            _s(
                "Something this list is about was changed since the preview. What follows is looked over again; what "
                "was written before stays."
            )
        ) from since
    return False


def _record(imported: Import, deed: Deed, by: User, at: datetime) -> None:
    counted = totals(imported)
    told = [["list", worded(imported, "kind")], *([name, str(counted[name])] for name in (NEW, CHANGED))]
    record(deed=deed, school=imported.school, by=by, at=at, told=told)


def _forget_older(written: Import) -> None:
    """Only the last import can be undone; the rows of those before are not kept."""
    Batch.objects.filter(batch_of__school=written.school_id, batch_of__state=State.WRITTEN).exclude(
        batch_of=written.pk
    ).delete()


@transaction.atomic
def undo(*, imported: Import, by: User, at: datetime) -> None:
    """Takes everything the import wrote off the record again, all or nothing. Refused where it was changed since."""
    locked_school(imported.school_id)
    now = _locked(imported, State.WRITTEN, State.WRITING, State.CHECKING, State.CHECKED)
    if not may_undo(now):
        raise Refused(_s("Only the last import can be undone."))
    kind = kind_of(now.kind)
    for batch in now.batches.filter(written=True).order_by("-place"):
        kind.undo(batch.rows_that_are(NEW, CHANGED), batch.made, school=now.school)
        batch.written, batch.checked, batch.made = False, False, {}
        batch.save()
    _record(now, Deed.LIST_UNDONE, by, at)
    now.state = State.UNDONE
    now.save(update_fields=["state"])


@transaction.atomic
def discard(*, imported: Import) -> None:
    """Forgets a list of which nothing is on record."""
    now = _locked(imported, State.COLUMNS, State.CHECKING, State.CHECKED, State.UNDONE, State.WRITING)
    if now.batches.filter(written=True).exists():
        raise Refused(_s("Part of this list is on record. Undo it first."))
    now.delete()


def _locked(imported: Import, *states: Any) -> Import:
    now = Import.objects.select_for_update().filter(pk=imported.pk).first()
    if now is None:
        raise Refused(_s("This list was put away."))
    if now.state not in states:
        raise Refused(_s("This list is %(state)s by now. Load the page again.") % {"state": now.get_state_display()})
    return now
