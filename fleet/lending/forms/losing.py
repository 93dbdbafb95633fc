"""The form for a horn that was lost."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences


class LostForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label=_s_lazy("What happened"),
        max_length=280,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_s_lazy("Where and when it was last seen, and whom the family has told. Names of others stay out."),
    )
