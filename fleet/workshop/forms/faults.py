"""What a check asks of one fault: whether it is there, how bad, where, its figures, a note."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import forms
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.workshop.models import Finding
from fleet.workshop.models.faults import Fault
from fleet.workshop.models.fitted import PLACES
from fleet.workshop.models.measures import MOST_OF_ONE, in_words

SEVERITIES = Finding.Severity.choices
WHICH = {"valves": _s_lazy("Which valve"), "slides": _s_lazy("Which slide")}


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault of the check as the page draws it: its fields and what the catalogue says."""

    entry: Fault
    found: forms.BoundField
    severity: forms.BoundField | None
    note: forms.BoundField
    at: forms.BoundField | None
    figures: tuple[forms.BoundField, ...]
    known: bool = False
    # Whether the drawing was tapped for it, and at which place.
    tapped: bool = False
    tapped_at: str = ""
    # All of it as HTML, where nothing was said of it yet.
    drawn: str = ""

    @property
    def is_ticked(self) -> bool:
        """Also what was found before and is unticked, and what must be put right."""
        fields = (self.found, self.severity, self.note, self.at, *self.figures)
        said = not self.drawn and (bool(self.found.value()) or any(one.errors for one in fields if one is not None))
        return self.known or said


def row_of(form: forms.Form, fault: Fault, **more: Any) -> FaultRow:
    """The row of a form that has the fields of this fault."""
    code = fault.code
    severity = None if fault.finish else form[f"severity-{code}"]
    at = form[f"at-{code}"] if fault.at else None
    figures = tuple(form[name] for name in (f"number-{code}", f"measured-{code}") if name in form.fields)
    return FaultRow(fault, form[f"found-{code}"], severity, form[f"note-{code}"], at, figures, **more)


# A horn has a hundred of them, and one or two are ever ticked: to draw the rest anew took most of the page's time.
@lru_cache(maxsize=2048)
def at_rest(fault: Fault, has: tuple[str, ...], _language: str | None) -> FaultRow:
    """The row of a fault of which nothing was said yet, on a horn that has these places."""
    form = forms.Form()
    form.fields = fields_of(fault, has)
    row = row_of(form, fault)
    return replace(row, drawn=render_to_string("workshop/_fault.html", {"row": row}))


def fields_of(fault: Fault, has: Iterable[str], before: Finding | None = None) -> dict[str, forms.Field]:
    """The fields that ask of a fault, on a horn that has these places; they begin with what was found `before`."""
    code, words = fault.code, _s(fault.words)
    fields: dict[str, forms.Field] = {
        f"found-{code}": forms.BooleanField(label=words, required=False, initial=before is not None)
    }
    if not fault.finish:
        fields[f"severity-{code}"] = forms.ChoiceField(
            label=_s("How bad: %(fault)s") % {"fault": words},
            choices=SEVERITIES,
            required=False,
            initial=before.severity if before else fault.severity,
            error_messages={"invalid_choice": _s("Choose note, watch, repair before loan or must not be played.")},
        )
    if fault.at:
        places = dict.fromkeys((*has, *(before.places if before else ())))
        fields[f"at-{code}"] = forms.MultipleChoiceField(
            label=WHICH[fault.at],
            choices=[(place, _s(PLACES[fault.at].get(place, place))) for place in places],
            required=False,
            initial=before.places if before else [],
            error_messages={"invalid_choice": _s("This horn has no such place.")},
        )
    if fault.counts:
        fields[f"number-{code}"] = number_field(fault, before)
    if fault.measure:
        fields[f"measured-{code}"] = measured_field(fault, before)
    fields[f"note-{code}"] = forms.CharField(
        label=_s("Note: %(fault)s") % {"fault": words},
        required=False,
        max_length=300,
        initial=before.note if before else "",
    )
    return fields


class FigureField(forms.DecimalField):
    """A figure as it was typed, never as 3.00; with a comma or a point, since some keys have one of them alone."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return in_words(value) if isinstance(value, Decimal) else value


def _of(asks: str, fault: Fault) -> SafeString:
    """The label; which fault it is about is read out, and stands above it for who sees."""
    return format_html('{}<span class="visually-hidden">: {}</span>', asks, _s(fault.words))


def number_field(fault: Fault, before: Finding | None) -> forms.IntegerField:
    said = _s("There can be 1 to %(most)s of them.") % {"most": MOST_OF_ONE}
    return forms.IntegerField(
        label=_of(_s("How many"), fault),
        required=False,
        min_value=1,
        max_value=MOST_OF_ONE,
        initial=before.number if before else None,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={"min_value": said, "max_value": said, "invalid": said},
    )


def measured_field(fault: Fault, before: Finding | None) -> FigureField:
    """The bounds of the catalogue, and a figure that was kept before: it only stands there again."""
    assert fault.measure is not None
    said = _s("Give a figure %(bounds)s, with at most two decimals.") % {"bounds": fault.measure.bounds}
    kept = before.measured if before else None
    return FigureField(
        label=_of(fault.measure.asks, fault),
        required=False,
        min_value=fault.measure.least if kept is None else min(kept, fault.measure.least),
        max_value=fault.measure.most if kept is None else max(kept, fault.measure.most),
        max_digits=6,
        decimal_places=2,
        initial=kept,
        error_messages=dict.fromkeys(
            ("min_value", "max_value", "invalid", "max_digits", "max_decimal_places", "max_whole_digits"), said
        ),
    )
