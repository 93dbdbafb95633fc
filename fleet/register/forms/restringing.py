"""The key a horn stands in now, since when and why."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.utils import timezone

from fleet.ground.fields import DateInput, day_as_time, not_to_come
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.register.models import Horn
from fleet.register.models.kinds import stands_of


class StandForm(PlainSentences, forms.Form):
    stands_in = forms.ChoiceField(label=_s_lazy("It stands in now"), widget=forms.RadioSelect)
    on = forms.DateField(label=_s_lazy("Restrung on"), widget=DateInput())
    reason = forms.CharField(label=_s_lazy("Why"), max_length=300)

    def __init__(self, *args: Any, horn: Horn, now: datetime, **kwargs: Any) -> None:
        self.now = now
        kwargs.setdefault("initial", {"on": timezone.localdate(now)})
        super().__init__(*args, **kwargs)
        others = [choice for choice in stands_of(horn.build) if choice[0] != horn.stands_in]
        cast(forms.ChoiceField, self.fields["stands_in"]).choices = others
        if len(others) == 1:
            self.fields["stands_in"].initial = others[0][0]

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.now)

    @property
    def said(self) -> dict[str, Any]:
        """What a restringing takes: stands_in, reason, at."""
        given = self.cleaned_data
        at = day_as_time(given["on"], self.now)
        return {"stands_in": given["stands_in"], "reason": given["reason"], "at": at}
