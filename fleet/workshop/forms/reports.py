"""The answer to a family's report."""

from __future__ import annotations

from django import forms

from fleet.ground.sentences import PlainSentences


class ReportAnswerForm(PlainSentences, forms.Form):
    answer = forms.CharField(
        label="Your answer to the family",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="They read it on their page.",
    )
    # One of the two buttons: its job goes on the bench list.
    to_bench = forms.BooleanField(required=False)
