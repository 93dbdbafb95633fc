"""How a school's label sheets are cut, as its heads type it."""

from __future__ import annotations

from django import forms

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.register.models import LabelSheet


class LabelSheetForm(PlainSentences, RowForm[LabelSheet]):
    class Meta:
        model = LabelSheet
        fields = ("paper", "across", "down", "width", "height", "left", "top", "gap_across", "gap_down")
        labels = {"paper": _s_lazy("Paper")}
        widgets = {
            name: forms.NumberInput(attrs={"step": "0.1", "min": "0"})
            for name in ("width", "height", "left", "top", "gap_across", "gap_down")
        }
