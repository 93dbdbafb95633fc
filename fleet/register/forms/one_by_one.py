"""What is typed while horns are put on a list one after another."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.ground.sentences import PlainSentences


class ScannedField(forms.CharField):
    """Words from a keyboard or a scanner, which may send a character that no database keeps: it is left out."""

    def to_python(self, value: Any) -> str:
        return str(super().to_python(value)).replace("\0", "")


class ListedForm(PlainSentences, forms.Form):
    """What goes on the list: numbers with commas or lines between."""

    numbers = ScannedField(required=False)

    def typed(self) -> list[str]:
        """The numbers one by one; a number is not longer than a label's address."""
        lines = self.cleaned_data["numbers"].replace(",", "\n").splitlines()
        return [one.strip()[:200] for one in lines if one.strip()]


class OffForm(PlainSentences, forms.Form):
    """The button that takes one horn off the list again, with the horn's key."""

    do = forms.RegexField(r"^leave-\d{1,18}$")

    @property
    def horn(self) -> int:
        return int(self.cleaned_data["do"].removeprefix("leave-"))
