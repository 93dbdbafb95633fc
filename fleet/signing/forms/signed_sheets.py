"""A signed sheet as it is sent, by itself or as the horn is handed out."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.base import ContentFile

from fleet.ground.files.pdfs import kept_paper
from fleet.ground.sentences import PlainSentences
from fleet.signing.forms.particulars import SignedForm


class SheetFileField(forms.FileField):
    """Gives the file as it is to be kept, None for none."""

    widget = forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp,application/pdf"})

    def clean(self, data: Any, initial: Any = None) -> ContentFile[bytes] | None:
        upload = super().clean(data, initial)
        return kept_paper(upload) if upload else None


class SignedSheetForm(PlainSentences, forms.Form):
    sheet = SheetFileField(
        label="The signed sheet",
        help_text="A photograph (JPEG, PNG or WebP) or a PDF. Place and time hidden in a photograph are taken out.",
    )


class HandOutForm(SignedForm):
    """The day of the signature, which the button itself says there is, and the sheet where it is kept at once."""

    signed = None  # type: ignore[assignment]
    sheet = SheetFileField(
        label="The signed sheet, to be kept with the loan",
        required=False,
        help_text="If you like: a photograph or a PDF. It can be added later too.",
    )
