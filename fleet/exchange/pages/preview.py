"""What an import's page shows of it: the counts, how far it is, and the first rows of each verdict in words."""

from __future__ import annotations

from typing import Any

from django.utils.dateparse import parse_date
from django.utils.formats import date_format

from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.actions.lists.horns import BELLS
from fleet.exchange.models import Import
from fleet.exchange.pages.preview_tables import ChangedRows, NewRows, RefusedRows
from fleet.exchange.queries.imports import may_undo, totals
from fleet.register.models import Horn
from fleet.register.models.describing import in_a_sentence

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
        labels = {column.name: column.label for column in kind_of(imported.kind).columns}
        refused, new, changed = (
            _first(imported, verdict, most)
            for verdict, most in (("refused", REFUSED), ("new", OTHERS), ("changed", OTHERS))
        )
        shown["refused_rows"] = RefusedRows(_wrong(refused), of=len(refused))
        shown["new_rows"] = NewRows([{"line": row["line"], "said": _said(row, labels)} for row in new], of=len(new))
        shown["changed_rows"] = ChangedRows(_changes(changed, labels), of=len(changed))
        shown["left_out"] = [
            heading for heading, name in zip(imported.headings, imported.columns, strict=False) if heading and not name
        ]
    return shown


def _first(imported: Import, verdict: str, most: int) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for batch in imported.batches.filter(**{f"{verdict}__gt": 0}, written=False).iterator(chunk_size=2):
        found += batch.rows_that_are(verdict)
        if len(found) >= most:
            break
    return found[:most]


def _wrong(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {"line": row["line"], "column": column, "value": value, "sentence": sentence}
        for row in rows
        for column, value, sentence in row["wrong"]
    ]


def _changes(rows: list[dict[str, Any]], labels: dict[str, str]) -> list[dict[str, Any]]:
    lines = []
    for row in rows:
        begins = {"first": next(iter(row["cells"]), "")}
        for label, before, after in _turned(row, labels):
            lines.append({"line": row["line"], "label": label, "before": before, "after": after, **begins})
            begins = {}
    return lines


def in_words(name: str, value: Any) -> str:
    """A value as the page says it: days with their month in letters, so that a wrong order of day and month shows."""
    if name == "adults":
        return "; ".join(f"{who} ({mail or telephone})" for who, mail, telephone in value)
    if name.endswith("_on") and (day := parse_date(str(value))):
        return date_format(day, "j F Y")
    if name == "described_as" and (guess := in_a_sentence(value)):
        return f"“{value}”: {guess}; to be identified"
    return _CHOICES.get((name, str(value)), str(value))


# What a finish, bell or wrap is called on the horn's own page.
_CHOICES = {
    (name, str(key)): str(label)
    for name, choices in (("finish", Horn.Finish.choices), ("bell", BELLS), ("wrap", Horn.Wrap.choices))
    for key, label in choices
}


def _label(name: str, labels: dict[str, str]) -> str:
    return labels.get(name) or {"family_name": "Family name"}.get(name, "Guardian")


def _said(row: dict[str, Any], labels: dict[str, str]) -> list[tuple[str, str]]:
    """What a new row says; `about` is what a row of keys is about, in words."""
    return [(label, words) for label, words in row.get("about", ())] + [
        (_label(name, labels), in_words(name, value))
        for name, value in row["after"].items()
        if value and name not in {"horn", "pupil"}
    ]


def _turned(row: dict[str, Any], labels: dict[str, str]) -> list[tuple[str, str, str]]:
    about = dict(row.get("about", ()))
    return [
        (_label(name, labels), in_words(name, row["before"].get(name, "")), in_words(name, value))
        if name != "pupil"
        else ("Pupil", "another pupil", about["Pupil"])
        for name, value in row["after"].items()
        if value != row["before"].get(name, "") and name != "horn"
    ]
