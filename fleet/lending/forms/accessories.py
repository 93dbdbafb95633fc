"""The form for a thing that did not come back with its horn."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.lending.models import LoanAccessory


class SettledForm(PlainSentences, forms.Form):
    settled_as = forms.ChoiceField(
        label=_s_lazy("What became of it"), choices=LoanAccessory.Settled, widget=forms.RadioSelect
    )
