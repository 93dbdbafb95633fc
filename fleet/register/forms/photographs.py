"""A photograph of a horn, as it is sent."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.base import ContentFile

from fleet.ground.pictures import redrawn
from fleet.ground.sentences import PlainSentences


class PhotographForm(PlainSentences, forms.Form):
    picture = forms.FileField(
        label="Picture",
        help_text="JPEG, PNG or WebP. The horn only: no pupils. Place and time hidden in the file are taken out.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(label="What it shows", max_length=120, required=False)

    fresh: tuple[ContentFile[bytes], int, int]

    def clean_picture(self) -> Any:
        upload = self.cleaned_data["picture"]
        self.fresh = redrawn(upload)
        return upload

    @property
    def said(self) -> dict[str, Any]:
        """What keeping it takes: image, width, height (pixels), caption."""
        image, width, height = self.fresh
        return {"image": image, "width": width, "height": height, "caption": self.cleaned_data["caption"]}
