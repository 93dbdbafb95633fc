"""The form that a new version of the agreement is written in."""

from __future__ import annotations

from django import forms

from fleet.ground.sentences import PlainSentences

# More would not be read before it is signed, and would not stand on the one page of the sheet.
LONGEST_AGREEMENT = 1800


class AgreementForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="What the guardian signs",
        max_length=LONGEST_AGREEMENT,
        widget=forms.Textarea(attrs={"rows": 14}),
        help_text="It prints on the loan sheet, where about 150 words stay easy to read.",
        error_messages={"required": "An agreement needs words."},
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)
