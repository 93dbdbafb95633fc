"""The form that answers a family."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences


class AskAnswerForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label=_s_lazy("Your answer to the family"),
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_s_lazy("The family reads this."),
    )
