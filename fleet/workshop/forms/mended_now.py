"""A fault mended on the spot: how long it took and what it used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from fleet.ground.addresses import MOST_KEY
from fleet.ground.sentences import PlainSentences
from fleet.workshop.forms.jobs import minutes_field
from fleet.workshop.models import Finding, Part


class MendedNowForm(PlainSentences, forms.Form):
    minutes = minutes_field("Minutes it took")
    parts = forms.MultipleChoiceField(label="Taken from the shelf", required=False, widget=forms.CheckboxSelectMultiple)
    seen = forms.IntegerField(min_value=0, max_value=MOST_KEY, widget=forms.HiddenInput)

    def __init__(self, *args: Any, finding: Finding, wanted: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["minutes"].initial = finding.minutes
        self.wanted = {str(part.pk): part for part in wanted}
        choices = self.fields["parts"]
        choices.choices = [  # type: ignore[attr-defined]
            (pk, f"{finding.count} × {part} ({part.on_hand} there)") for pk, part in self.wanted.items()
        ]
        choices.initial = list(self.wanted)
        if not self.wanted:
            del self.fields["parts"]

    def clean_parts(self) -> list[Part]:
        return [self.wanted[pk] for pk in self.cleaned_data["parts"]]
