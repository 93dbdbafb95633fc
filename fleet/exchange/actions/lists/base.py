"""What every kind of list has in common: cells read by column, rows with a verdict, a report of what is wrong."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, Protocol

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Upper
from django.utils.translation import gettext as _s

from fleet.exchange.reading.bounds import LONGEST_CELL
from fleet.exchange.reading.cells import (
    EXCEL_BEGINS,
    plain,
    read_amount,
    read_day,
    read_month_or_year,
    reads_like_a_sum,
)
from fleet.exchange.reading.columns import ListColumn, Reading, Row, Values
from fleet.exchange.reading.told import Filled, fillings
from fleet.ground.languages.known import kept_in_english
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.ground.wording import plain_words
from fleet.people.models import School, User
from fleet.register.models import Horn
from fleet.register.models.horns import HornQuerySet

NEW, CHANGED, SAME, REFUSED = "new", "changed", "same", "refused"
A_FORMULA = _s_lazy(
    "A cell that begins with = is a formula, and none is run. Put the value there, or an apostrophe before it."
)
# What stands in the refused rows for a formula, so that sending them again uncorrected refuses them again.
STOOD_THERE = "(formula) "


EARLIEST = 1850
# Nought and one, as spreadsheets count days.
NO_DAYS = {EXCEL_BEGINS, date(1899, 12, 31), date(1900, 1, 1)}


class Stale(Exception):
    """The records are no longer as they were when the rows were looked over: look again before writing."""


def is_untouched(record: models.Model, besides: Collection[str]) -> bool:
    """Whether every column but those in `besides` is as it was when the record was made."""
    fields = [field for field in record._meta.concrete_fields if field.name not in besides and not field.generated]
    return all(field.value_from_object(record) in (field.get_default(), None) for field in fields)


class ListKind(Protocol):
    @property
    def key(self) -> str: ...
    @property
    def columns(self) -> tuple[ListColumn, ...]: ...
    @property
    def hint(self) -> str: ...

    def check(self, rows: Sequence[Row], read: Reading, values: Sequence[Values], seen: Mapping[str, int]) -> Seen: ...
    def write(self, rows: Sequence[Row], *, school: School, by: User, at: datetime) -> dict[str, Any]: ...
    def undo(self, rows: Sequence[Row], made: Mapping[str, Any], *, school: School) -> None: ...


Seen = dict[str, int]


def read_rows(
    rows: Iterable[Row], by_name: Mapping[str, ListColumn], columns: Sequence[str], read: Reading
) -> list[Values]:
    """What the cells of each row say, by column; what is wrong with a cell goes to the row's `wrong`, or to `noted`
    where the cell is only left empty.

    Empty cells say nothing, nor do words for what is not known: they are left out.
    """
    # With each column what its texts were read as: a list says the same maker again and again.
    wanted = [(place, by_name[name], dict[str, str]()) for place, name in enumerate(columns) if name]
    found = []
    for row in rows:
        values: Values = {}
        row["wrong"], row["noted"] = [], []
        cells = row["cells"]
        for place, column, known in wanted:
            text = cells[place] if place < len(cells) else ""
            if text in known:
                values[column.name] = known[text]
            elif text:
                try:
                    if text[0] == "=" or text.startswith(STOOD_THERE.strip()):
                        raise ValidationError(A_FORMULA)
                    if len(text) > LONGEST_CELL:
                        raise ValidationError(
                            _s("Use at most %(most)s letters in one cell."), params={"most": LONGEST_CELL}
                        )
                    if (value := column.clean(plain(text), read)) != "":
                        values[column.name] = known[text] = value
                except ValidationError as trouble:
                    needed = column.required or column.vital
                    row["wrong" if needed else "noted"] += [[column.label, text, *one] for one in plainly(trouble)]
            elif column.required:
                refuse(row, column.label, "", _s("It is missing."))
        found.append(values)
    return found


# What the fields of forms and records say, in words that fit a list, by the code of the error.
_PLAIN = {
    "max_length": _s_lazy("Use at most %(limit_value)s letters; here are %(show_value)s."),
    "min_value": _s_lazy("This must be at least %(limit_value)s."),
    "max_value": _s_lazy("This must be at most %(limit_value)s."),
    "max_digits": _s_lazy("This amount is too large."),
    "max_whole_digits": _s_lazy("This amount is too large."),
    "max_decimal_places": _s_lazy("Use at most %(max)s figures after the point."),
    "null_characters_not_allowed": _s_lazy("There is a letter in here that cannot be kept. Type it anew."),
}


def plainly(wrong: ValidationError) -> Iterator[tuple[str, Filled]]:
    """What is wrong with a value, in plain sentences, each with what is filled in."""
    for error in wrong.error_list:
        sentence = str(_PLAIN.get(error.code or "", error.message))
        yield sentence, fillings(sentence, error.params or {})


def changed_since(name: str) -> Refused:
    return Refused(_s("%(name)s was changed since, so the import cannot be undone.") % {"name": name})


def numbered(school: School, numbers: Collection[str]) -> HornQuerySet:
    """The horns of these register numbers, given in capitals."""
    return Horn.objects.at(school).annotate(same=Upper("number")).filter(same__in=numbers)


def judge(row: Row, verdict: str, *, key: int | None = None, before: Any = None, after: Any = None) -> None:
    row.update(verdict=verdict, key=key, before=before or {}, after=after or {})


def refuse(row: Row, column: str, value: str, sentence: str, /, **filled: Any) -> None:
    row["wrong"].append([column, value, str(sentence), filled])


def leave_empty(row: Row, column: str, value: str, sentence: str, /, **filled: Any) -> None:
    """The row comes in without this; the look before says so."""
    row["noted"].append([column, value, str(sentence), filled])


NO_HORN = _s_lazy("This reads like the sum under a list, not like a horn.")
NO_PUPIL = _s_lazy("This reads like the sum under a list, not like a pupil.")


def a_sum(row: Row, column: str, value: str, sentence: str) -> bool:
    """Refuses the line under a list; whether it is one."""
    is_one = reads_like_a_sum(value)
    if is_one:
        refuse(row, column, value, sentence)
    return is_one


def _taken(form: type[forms.ModelForm[Any]], name: str) -> Callable[[str | date], Any]:
    """A value as the form's own field and the record's validators take it, or ValidationError."""
    asked: Any = form.base_fields[name]
    kept: Any = form._meta.model._meta.get_field(name)

    def take(text: str | date) -> Any:
        value = asked.clean(text)
        kept.run_validators(value)
        return value

    return take


def through(form: type[forms.ModelForm[Any]], name: str) -> Callable[[str, Reading], str]:
    """Cells read as a form reads that field, so that a list can bring in nothing a form would not take."""
    take = _taken(form, name)
    return lambda text, read: str(take(text))


def a_day(form: type[forms.ModelForm[Any]], name: str) -> Callable[[str, Reading], str]:
    """Cells that hold a day that has come, in whatever form."""
    take = _taken(form, name)

    def clean(text: str, read: Reading) -> str:
        day = read_day(text, day_first=read.day_first, today=read.today)
        if day > read.today:
            raise ValidationError(_s("This day has not come yet."))
        if day.year < EARLIEST:
            raise ValidationError(_s("This day is too long ago; check the year."))
        if day in NO_DAYS:
            raise ValidationError(_s("A spreadsheet shows this day where none was given."))
        return str(take(day))

    return clean


def a_day_or_year(form: type[forms.ModelForm[Any]], name: str) -> Callable[[str, Reading], str]:
    """As `a_day`; a year alone stays a year, and a month with its year stays that."""
    whole = a_day(form, name)

    def clean(text: str, read: Reading) -> str:
        part = read_month_or_year(text)
        if part is None:
            return whole(text, read)
        if part > str(read.today)[: len(part)]:
            raise ValidationError(_s("This has not come yet."))
        if int(part[:4]) < EARLIEST:
            raise ValidationError(_s("This is too long ago; check the year."))
        return part

    return clean


def an_amount(form: type[forms.ModelForm[Any]], name: str) -> Callable[[str, Reading], str]:
    take = _taken(form, name)
    return lambda text, read: f"{take(str(read_amount(text))):.2f}"


# Kept in English, whoever was the first to ask for this list.
@kept_in_english()
def one_of(choices: Iterable[tuple[str, str]], also: Mapping[str, str]) -> Callable[[str, Reading], str]:
    """Cells that name one of a form's choices, by its label, its key or a word in `also`."""
    known = {plain_words(word): str(key) for word, key in also.items()}
    labels = [str(label) for key, label in choices if key]
    for key, label in choices:
        if key:
            known[plain_words(str(label))] = known[plain_words(str(key))] = str(key)

    def clean(text: str, read: Reading) -> str:
        words = plain_words(text)
        if words in known:
            return known[words]
        near = difflib.get_close_matches(words, known, n=1, cutoff=0.82)
        if near:
            return known[near[0]]
        raise ValidationError(_s("Say one of: %(choices)s."), params={"choices": labels})

    return clean
