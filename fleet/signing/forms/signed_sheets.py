"""A signed sheet as it is sent, by itself or as the horn is handed out."""

from __future__ import annotations

from django import forms

from fleet.ground.fields import PaperField
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.signing.forms.particulars import SignedForm


class SignedSheetForm(PlainSentences, forms.Form):
    sheet = PaperField(
        label=_s_lazy("The signed sheet"),
        help_text=_s_lazy(
            "A photograph (JPEG, PNG or WebP) or a PDF. Place and time hidden in a photograph are taken out."
        ),
    )


class HandOutForm(SignedForm):
    """The day of the signature, which the button itself says there is, and the sheet where it is kept at once."""

    signed = None  # type: ignore[assignment]
    sheet = PaperField(
        label=_s_lazy("The signed sheet, to be kept with the loan"),
        required=False,
        help_text=_s_lazy("If you like: a photograph or a PDF. It can be added later too."),
    )
