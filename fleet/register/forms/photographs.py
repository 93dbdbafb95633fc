"""A photograph of a horn, as it is sent."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.utils.translation import gettext as _s

from fleet.ground.fields import KeptForm
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.pictures import redrawn
from fleet.ground.sentences import PlainSentences


class PhotographForm(PlainSentences, KeptForm):
    picture = forms.FileField(
        label=_s_lazy("Picture"),
        help_text=_s_lazy(
            "JPEG, PNG or WebP. The horn only: no pupils. Place and time hidden in the file are taken out."
        ),
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(label=_s_lazy("What it shows"), max_length=120, required=False)
    # The last field of the page: a browser cut off half-way through its picture does not get this far.
    whole = forms.CharField(required=False, widget=forms.HiddenInput)

    fresh: tuple[ContentFile[bytes], int, int]

    def clean_picture(self) -> Any:
        upload = self.cleaned_data["picture"]
        self.fresh = redrawn(upload)
        return upload

    def clean(self) -> dict[str, Any]:
        super().clean()
        given: dict[str, Any] = self.cleaned_data
        if given.get("sent_as") and not given.get("whole"):
            raise ValidationError(_s("The photograph did not arrive whole. Send it again."))
        return given

    @property
    def said(self) -> dict[str, Any]:
        """What keeping it takes: image, width, height (pixels), caption, sent_as, waited."""
        image, width, height = self.fresh
        given = self.cleaned_data
        size = {"width": width, "height": height}
        once = {"sent_as": given["sent_as"], "waited": self.waited}
        return {"image": image, **size, "caption": given["caption"], **once}
