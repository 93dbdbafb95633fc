"""A fault mended on the spot: how long it took and what it used."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import KeptForm
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.workshop.forms.jobs import minutes_field
from fleet.workshop.models import Finding, Part


class MendedNowForm(PlainSentences, KeptForm):
    minutes = minutes_field(_s_lazy("Minutes it took"))
    parts = forms.MultipleChoiceField(
        label=_s_lazy("Taken from the shelf"), required=False, widget=forms.CheckboxSelectMultiple
    )
    seen = forms.CharField(max_length=36, widget=forms.HiddenInput)

    def __init__(self, *args: Any, finding: Finding, wanted: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["minutes"].initial = finding.minutes
        self.wanted = {str(part.pk): part for part in wanted}
        choices = self.fields["parts"]
        choices.choices = [  # type: ignore[attr-defined]
            (
                pk,
                _s("%(count)s × %(part)s (%(on_hand)s there)")
                % {"count": finding.count, "part": part, "on_hand": part.on_hand},
            )
            for pk, part in self.wanted.items()
        ]
        choices.initial = list(self.wanted)
        if not self.wanted:
            del self.fields["parts"]

    def clean_parts(self) -> list[Part]:
        return [self.wanted[pk] for pk in self.cleaned_data["parts"]]

    def said(self, now: datetime) -> dict[str, Any]:
        """What mending takes: minutes, parts, seen, sent_as, at, received_at."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "age"}
        return {**given, "at": self.done_at(now), "received_at": self.received_at(now)}


class SentAgainForm(PlainSentences, forms.Form):
    """What the outbox sends once more, since the answer to it was lost."""

    sent_as = forms.UUIDField()
