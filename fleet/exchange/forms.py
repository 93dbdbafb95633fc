from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from django import forms
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.models import Import, ListKey
from fleet.exchange.reading.bounds import LARGEST_FILE, LONGEST_CELL, MOST_ROWS, grouped, megabytes
from fleet.exchange.reading.cells import plain
from fleet.exchange.reading.told import note_told
from fleet.ground.addresses import whole
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences

# What a column means that is left out.
NOTHING = "-"


class FileForm(PlainSentences, forms.Form):
    kind = forms.ChoiceField(
        label=_s_lazy("What is in it"),
        choices=ListKey.choices,
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _s_lazy("Choose what the list is about.")),
    )
    file = forms.FileField(
        label=_s_lazy("The file"),
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx,.ods,.xls,.csv,.txt,.tsv"}),
        error_messages={"invalid": _s_lazy("Choose a file.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        most = {"rows": grouped(MOST_ROWS), "size": megabytes(LARGEST_FILE)}
        self.fields["file"].help_text = _s(".xlsx, .ods, .xls or .csv; up to %(rows)s rows and %(size)s.") % most

    @property
    def said(self) -> dict[str, Any]:
        """What taking it in needs: kind, file, name."""
        file = self.cleaned_data["file"]
        return {"kind": self.cleaned_data["kind"], "file": file, "name": file.name}


class HeaderForm(PlainSentences, forms.Form):
    """Which line of the file holds the headings."""

    header = forms.CharField(required=False)

    @property
    def line(self) -> int:
        """The line's number, 0 for anything that is none."""
        return whole(self.cleaned_data["header"]) or 0


class ColumnsForm(PlainSentences, forms.Form):
    """What each column of the file means, with the first values in it to tell by."""

    day_first = forms.TypedChoiceField(
        label=_s_lazy("A day written 3/4/2026 is"),
        choices=[("yes", _s_lazy("3 April")), ("no", _s_lazy("March 4"))],
        coerce=lambda text: text == "yes",
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(("required", "invalid_choice"), _s_lazy("Say in which order day and month are.")),
    )

    def __init__(self, *args: Any, imported: Import, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.imported = imported
        self.fields["day_first"].initial = "yes" if imported.day_first else "no"
        choices = [(NOTHING, _s("leave it out")), *[(c.name, c.said) for c in kind_of(imported.kind).columns]]
        below = [cells for line, cells in imported.top if line > imported.header_line]
        width = max([len(imported.headings), len(imported.columns), *(len(cells) for cells in below)])
        self.places = range(width)
        for place in self.places:
            heading = imported.headings[place] if place < len(imported.headings) else ""
            examples = list(dict.fromkeys(cells[place] for cells in below if place < len(cells) and cells[place]))[:3]
            self.fields[f"column-{place}"] = forms.ChoiceField(
                label=heading or _s("Column %(place)s, without a heading") % {"place": place + 1},
                choices=choices,
                initial=(imported.columns[place] if place < len(imported.columns) else "") or NOTHING,
                error_messages=dict.fromkeys(("required", "invalid_choice"), _s("Choose what this column means.")),
                help_text=_s("like %(examples)s") % {"examples": " · ".join(text[:30] for text in examples)}
                if examples
                else _s("empty so far"),
            )

    def clean(self) -> dict[str, Any]:
        super().clean()
        data: dict[str, Any] = self.cleaned_data
        labels = {column.name: column.said for column in kind_of(self.imported.kind).columns}
        taken: dict[str, str] = {}
        for place in self.places:
            name, heading = data.get(f"column-{place}", NOTHING), str(self.fields[f"column-{place}"].label)
            if name in taken:
                self.add_error(
                    f"column-{place}",
                    _s("“%(heading)s” is taken for “%(column)s” already.")
                    % {"heading": taken[name], "column": labels[name]},
                )
            elif name != NOTHING:
                taken[name] = heading
        for column in kind_of(self.imported.kind).columns:
            if column.required and column.name not in taken:
                self.add_error(None, _s("Say which column is “%(column)s”.") % {"column": column.said})
        return data

    @property
    def matched(self) -> list[str]:
        chosen = [self.cleaned_data[f"column-{place}"] for place in self.places]
        return ["" if name == NOTHING else name for name in chosen]

    @property
    def column_fields(self) -> list[Any]:
        return [self[f"column-{place}"] for place in self.places]


class CloseNamesForm(PlainSentences, forms.Form):
    """What the names mean that are close to others: the other one, or a new one."""

    def __init__(self, *args: Any, imported: Import, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked = imported.questions
        for place, (said, near) in enumerate(self.asked):
            self.fields[f"name-{place}"] = forms.ChoiceField(
                label=_s("“%(name)s” is") % {"name": in_one(said)},
                choices=[("same", _s("the same as “%(name)s”") % {"name": in_one(near)}), ("new", _s("another one"))],
                widget=forms.RadioSelect,
                error_messages=dict.fromkeys(("required", "invalid_choice"), _s("Say which it is.")),
            )

    @property
    def answers(self) -> list[tuple[list[str], list[str]]]:
        chosen = [self.cleaned_data[f"name-{place}"] for place in range(len(self.asked))]
        return [(said, near if one == "same" else said) for one, (said, near) in zip(chosen, self.asked, strict=True)]


class RowForms(NamedTuple):
    """The fields of one row: those of the cells that are wrong, and the others. `why` is (column, value, sentence)."""

    line: int
    first: str
    why: list[tuple[str, str, str]]
    wrong: list[forms.BoundField]
    others: list[forms.BoundField]


class CellField(forms.CharField):
    """A cell may be empty, though its column may not: the reader of the list says so, and of the other rows no less."""

    def validate(self, value: str) -> None:
        pass


class CellsForm(PlainSentences, forms.Form):
    """The cells of some rows, to be typed anew. `why` names what of a row says what is wrong: `wrong` or `noted`."""

    use_required_attribute = False

    def __init__(self, *args: Any, imported: Import, rows: Sequence[dict[str, Any]], why: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.imported, self.lines, self.why = imported, rows, why
        known = {column.name: column for column in kind_of(imported.kind).columns}
        matched = {place: known[name] for place, name in enumerate(imported.columns) if name}
        self.labels = {place: column.label for place, column in matched.items()}
        for row in rows:
            for place, column in matched.items():
                self.fields[self._name(row, place)] = CellField(
                    label=column.said,
                    required=column.required,
                    max_length=LONGEST_CELL,
                    initial=self._shown(row, place),
                )

    @staticmethod
    def lines_in(data: Mapping[str, Any]) -> set[int]:
        """The rows of which cells were sent."""
        parts = [name.split("-") for name in data if name.startswith("cell-")]
        return {line for part in parts if len(part) == 3 and (line := whole(part[1])) is not None}

    @staticmethod
    def _name(row: dict[str, Any], place: int) -> str:
        return f"cell-{row['line']}-{place}"

    @staticmethod
    def _shown(row: dict[str, Any], place: int) -> str:
        return plain(str(row["cells"][place])) if place < len(row["cells"]) else ""

    @property
    def rows(self) -> list[RowForms]:
        found = []
        for row in self.lines:
            why = row.get(self.why) or []
            wrong: list[forms.BoundField] = []
            others: list[forms.BoundField] = []
            for place, label in self.labels.items():
                # "Guardian" is said of their contacts too.
                about = any(label == column or label.startswith(f"{column}’s") for column, *_rest in why)
                (wrong if about else others).append(self[self._name(row, place)])
            found.append(
                RowForms(
                    row["line"],
                    next(filter(None, row["cells"]), ""),
                    [note_told(*one) for one in why],
                    wrong,
                    others,
                )
            )
        return found

    @property
    def typed(self) -> dict[int, dict[int, str]]:
        """The cells that say something else than before, by line and place."""
        found: dict[int, dict[int, str]] = {}
        for row in self.lines:
            for place in self.labels:
                # A browser sends the ends of lines in a cell as something else, or not at all.
                said = " ".join(self.cleaned_data[self._name(row, place)].split())
                if said != " ".join(self._shown(row, place).split()):
                    found.setdefault(row["line"], {})[place] = said
        return found


def in_one(name: Sequence[str]) -> str:
    return ", ".join(filter(None, name))


class ClosingForm(PlainSentences, forms.Form):
    reason = forms.CharField(label=_s_lazy("Why"), max_length=300, widget=forms.Textarea(attrs={"rows": 3}))
