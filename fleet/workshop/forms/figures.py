"""The figures of a finding: how many there are, and what was measured."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.workshop.models import Finding
from fleet.workshop.models.faults import Fault
from fleet.workshop.models.measures import MOST_OF_ONE, in_words


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
