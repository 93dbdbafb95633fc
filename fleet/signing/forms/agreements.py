"""The form that a new version of the agreement is written in."""

from __future__ import annotations

from django import forms

from fleet.ground.sentences import PlainSentences

# The back of the sheet has room for so many, however they are broken into lines.
LONGEST_AGREEMENT = 4000


class AgreementForm(PlainSentences, forms.Form):
    # No length is told to the browser: it would cut what is pasted and say nothing.
    words = forms.CharField(
        label="What the guardian signs",
        widget=forms.Textarea(attrs={"rows": 14, "data-most": LONGEST_AGREEMENT}),
        help_text=(
            f"At most {LONGEST_AGREEMENT:,} characters. About 150 words stay easy to read; what has no room on the "
            "front of the loan sheet stands whole on its back."
        ),
        error_messages={"required": "An agreement needs words."},
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def clean_words(self) -> str:
        """A line end is one character, though a browser sends two."""
        words = "\n".join(self.cleaned_data["words"].splitlines())
        if len(words) > LONGEST_AGREEMENT:
            said = f"These are {len(words):,} characters, {len(words) - LONGEST_AGREEMENT:,} too many. Nothing was cut."
            raise forms.ValidationError(said)
        return words
