"""What an import's page shows of it: the counts, how far it is, and the first rows of each verdict in words."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import starmap
from typing import Any, overload

from django.core.paginator import Paginator
from django.utils.dateparse import parse_date
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.models import Import
from fleet.exchange.pages.preview_tables import ChangedRows, LeftEmpty, NewRows, RefusedRows, VerdictTable
from fleet.exchange.queries.imports import may_undo, totals
from fleet.exchange.reading.told import note_told, told
from fleet.ground.languages.known import KNOWN
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.register.models import Horn
from fleet.register.models.describing import in_a_sentence
from fleet.register.models.kinds import BELLS

REFUSED, OTHERS = 50, 20
State = Import.State


def preview_of(imported: Import) -> dict[str, Any]:
    """For the page: `totals`, `done` and `of` batches, tables of the
    first `refused_rows`, `new_rows` and `changed_rows`, `undoable`."""
    batches = imported.batches.order_by("place")
    done_field = "written" if imported.state == State.WRITING else "checked"
    shown: dict[str, Any] = {
        "totals": totals(imported),
        "of": batches.count(),
        "done": batches.filter(**{done_field: True}).count(),
        "undoable": may_undo(imported),
        "on_record": batches.filter(written=True).exists(),
    }
    if imported.state == State.CHECKED:
        for are, most in (("refused", REFUSED), ("noted", OTHERS), ("new", OTHERS), ("changed", OTHERS)):
            shown[f"{are}_rows"] = table_of(imported, are, RowsOf(imported, are)[:most])
        shown["left_out"] = [
            heading for heading, name in zip(imported.headings, imported.columns, strict=False) if heading and not name
        ]
    return shown


class RowsOf(Sequence[dict[str, Any]]):
    """The rows of a list that are of one kind and not written yet, read batch by batch as they are asked for."""

    def __init__(self, imported: Import, are: str) -> None:
        self.are = are
        self.found = imported.batches.filter(**{f"{are}__gt": 0}, written=False).order_by("place")
        self.counted = list(self.found.values_list("pk", are))

    def __len__(self) -> int:
        return sum(number for _, number in self.counted)

    @overload
    def __getitem__(self, at: int) -> dict[str, Any]: ...
    @overload
    def __getitem__(self, at: slice) -> list[dict[str, Any]]: ...
    def __getitem__(self, at: int | slice) -> dict[str, Any] | list[dict[str, Any]]:
        if isinstance(at, int):
            return self[at : at + 1][0]
        start, stop, _ = at.indices(len(self))
        rows: list[dict[str, Any]] = []
        before = 0
        for key, number in self.counted:
            if before < stop and before + number > start:
                batch = self.found.get(pk=key)
                mine = batch.rows_noted if self.are == "noted" else batch.rows_that_are(self.are)
                rows += mine[max(0, start - before) : stop - before]
            before += number
        return rows


def rows_of_lines(imported: Import, lines: Collection[int]) -> list[dict[str, Any]]:
    """The rows of these lines that are not written yet."""
    batches = imported.batches.filter(written=False).order_by("place") if lines else []
    return [row for batch in batches for row in batch.rows if row["line"] in lines and "verdict" in row]


KINDS_OF_ROWS = {
    "new": _s_lazy("New"),
    "changed": _s_lazy("Changed"),
    "same": _s_lazy("Already as they are"),
    "noted": _s_lazy("With a cell left empty or filled in"),
    "refused": _s_lazy("Refused"),
}
A_PAGE = 50
# Each row to be corrected has a field for every column.
A_PAGE_OF_FIELDS = 20
# What of a row says why it needs somebody.
WHY = {"refused": "wrong", "noted": "noted"}


def page_of_rows(imported: Import, are: str, number: str | None) -> dict[str, Any]:
    """For the page of all rows of one kind, the first there is where none is named: `page`, `table`, and the `kinds`
    there are as (key, label, how many). In `why` the name of what says why such rows need somebody, or ""."""
    counted = totals(imported)
    if are not in KINDS_OF_ROWS:
        are = next((key for key in KINDS_OF_ROWS if counted[key]), "new")
    page = Paginator(RowsOf(imported, are), A_PAGE_OF_FIELDS if are in WHY else A_PAGE).get_page(number)
    return {
        "are": KINDS_OF_ROWS[are],
        "why": WHY.get(are, ""),
        "page": page,
        "table": table_of(imported, are, list(page.object_list)),
        "kinds": [(key, label, counted[key]) for key, label in KINDS_OF_ROWS.items() if counted[key]],
    }


TABLES: dict[str, type[VerdictTable]] = {"refused": RefusedRows, "noted": LeftEmpty, "changed": ChangedRows}


def table_of(imported: Import, are: str, rows: list[dict[str, Any]]) -> VerdictTable:
    return TABLES.get(are, NewRows)(_lines(imported, are, rows), of=len(rows))


def _lines(imported: Import, are: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    if are in {"refused", "noted"}:
        return _wrong(rows, WHY[are])
    labels = {column.name: column.said for column in kind_of(imported.kind).columns}
    if are == "changed":
        return _changes(rows, labels)
    if are == "new":
        return [{"line": row["line"], "said": _said(row, labels)} for row in rows]
    headings = [heading or "–" for heading in imported.headings]
    cells = [list(zip(headings, row["cells"], strict=False)) for row in rows]
    said = [[(heading, cell) for heading, cell in one if cell] for one in cells]
    return [{"line": row["line"], "said": one} for row, one in zip(rows, said, strict=True)]


def _wrong(rows: list[dict[str, Any]], why: str) -> list[dict[str, Any]]:
    return [
        {"line": row["line"], "column": column, "value": value, "sentence": sentence}
        for row in rows
        for column, value, sentence in starmap(note_told, row[why])
    ]


def _changes(rows: list[dict[str, Any]], labels: dict[str, str]) -> list[dict[str, Any]]:
    lines = []
    for row in rows:
        begins = {"first": next(iter(row["cells"]), "")}
        for label, before, after in _turned(row, labels):
            lines.append({"line": row["line"], "label": label, "before": before, "after": after, **begins})
            begins = {}
    return lines


def _spelt(reached: str) -> str:
    return _s(KNOWN[reached].english) if reached in KNOWN else reached


def in_words(name: str, value: Any) -> str:
    """A value as the page says it: days with their month in letters, so that a wrong order of day and month shows."""
    if name == "adults":
        return "; ".join(f"{who} ({', '.join(_spelt(one) for one in reached if one)})" for who, *reached in value)
    if name == "acquired_on" and (month := parse_date(f"{value}-01")):
        return date_format(month, "F Y")
    if name in {"price", "value"} and value:
        return number_format(value, 2)
    if name.endswith("_on") and (on := parse_date(str(value))):
        return day(on)
    if name == "described_as" and (guess := in_a_sentence(value)):
        return _s("“%(words)s”: %(guess)s; to be identified") % {"words": value, "guess": guess}
    return str(_CHOICES.get((name, str(value)), value))


# What a finish, bell or wrap is called on the horn's own page.
_CHOICES = {
    (name, key): label
    for name, choices in (("finish", Horn.Finish.choices), ("bell", BELLS), ("wrap", Horn.Wrap.choices))
    for key, label in choices
}


def _label(name: str, labels: dict[str, str]) -> str:
    return labels.get(name) or (_s("Family name") if name == "family_name" else _s("Guardian"))


def _said(row: dict[str, Any], labels: dict[str, str]) -> list[tuple[str, str]]:
    """What a new row says; `about` is what a row of keys is about, in words."""
    return [(told(label), words) for label, words in row.get("about", ())] + [
        (_label(name, labels), in_words(name, value))
        for name, value in row["after"].items()
        if value and name not in {"horn", "pupil", "guardian"}
    ]


def _turned(row: dict[str, Any], labels: dict[str, str]) -> list[tuple[str, str, str]]:
    about = dict(row.get("about", ()))
    return [
        (_label(name, labels), in_words(name, row["before"].get(name, "")), in_words(name, value))
        if name != "pupil"
        else (_s("Pupil"), _s("another pupil"), about["Pupil"])
        for name, value in row["after"].items()
        if value != row["before"].get(name, "") and name != "horn"
    ]
