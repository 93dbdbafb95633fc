"""The answer to a family's report."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences


class ReportAnswerForm(PlainSentences, forms.Form):
    answer = forms.CharField(
        label=_s_lazy("Your answer to the family"),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_s_lazy("They read it on their page. On which day to bring the horn, its repair job tells them."),
    )
    # One of the two buttons: its job goes on the bench list.
    to_bench = forms.BooleanField(required=False)
