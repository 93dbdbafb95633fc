"""What is ticked when horns scanned one after another are taken back."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences


class LookedForm(PlainSentences, forms.Form):
    looked = forms.BooleanField(
        label=_s_lazy("I looked each one over: it is as before, and everything came with it"),
        error_messages={"required": _s_lazy("Look each horn over first, then tick that you did.")},
    )
    cleaned = forms.BooleanField(
        label=_s_lazy("Their mouthpieces are cleaned, inside and out, with disinfectant"), required=False
    )
