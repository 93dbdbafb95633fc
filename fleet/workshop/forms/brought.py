"""What a family is told of a repair of the horn it has on loan."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.workshop.actions.brought import ForTheFamily
from fleet.workshop.forms.outside import day_field

FARTHEST = timedelta(days=366)


class FamilyToldForm(PlainSentences, forms.Form):
    """Days that were said before may have passed; a new one may not."""

    bring_on = day_field(_s_lazy("Bring it on"))
    bring_words = forms.CharField(
        label=_s_lazy("Where and when"),
        max_length=200,
        required=False,
        help_text=_s_lazy("The family reads it as you write it."),
    )
    fetch_on = day_field(_s_lazy("Fetch it from"))

    def __init__(self, *args: Any, today: date, to_bring: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        if not to_bring:
            self.fields["bring_on"].disabled = self.fields["bring_words"].disabled = True
            for name in ("bring_on", "bring_words"):
                self.fields[name].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for name in ("bring_on", "fetch_on"):
            day = said.get(name)
            if day and name in self.changed_data and not self.today <= day <= self.today + FARTHEST:
                self.add_error(name, _s("Choose a day from today on, within a year."))
        if said.get("bring_words") and not said.get("bring_on") and "bring_on" not in self.errors:
            self.add_error("bring_on", _s("Say on which day."))
        if said.get("bring_on") and said.get("fetch_on") and said["fetch_on"] < said["bring_on"]:
            self.add_error("fetch_on", _s("It cannot be fetched before it is brought."))
        return said

    @property
    def told(self) -> ForTheFamily:
        return ForTheFamily(**self.cleaned_data)
