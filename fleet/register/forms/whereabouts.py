"""What becomes of a horn: withdrawn, kept again, not found or found."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.utils import timezone

from fleet.ground.fields import DateInput, day_as_time, not_to_come
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.register.models import Horn, Standing


class StandingForm(PlainSentences, forms.Form):
    kind = forms.ChoiceField(label=_s_lazy("What becomes of it"), widget=forms.RadioSelect)
    on = forms.DateField(label=_s_lazy("On"), widget=DateInput())
    reason = forms.CharField(label=_s_lazy("Why"), max_length=300)

    LABELS = {
        Standing.Kind.WITHDRAWN: _s_lazy("Withdraw it: it is lent no more, its number stays its own"),
        Standing.Kind.KEPT_AGAIN: _s_lazy("Keep it again"),
        Standing.Kind.NOT_FOUND: _s_lazy("It cannot be found"),
        Standing.Kind.FOUND: _s_lazy("It is found"),
        Standing.Kind.STRUCK_OUT: _s_lazy("It was entered by mistake: it leaves the lists, its number stays used"),
    }

    def __init__(self, *args: Any, horn: Horn, now: datetime, **kwargs: Any) -> None:
        self.now = now
        # Who looked for it, or asks for it to be kept again, comes to say so.
        back = {Standing.Kind.FOUND, Standing.Kind.KEPT_AGAIN}.intersection(horn.events_open)
        kwargs.setdefault("initial", {"on": timezone.localdate(now), "kind": next(iter(back), None)})
        super().__init__(*args, **kwargs)
        choices = [(kind.value, self.LABELS[kind]) for kind in horn.events_open]
        cast(forms.ChoiceField, self.fields["kind"]).choices = choices

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.now)

    @property
    def said(self) -> dict[str, Any]:
        """What the change takes: kind, reason, on, at."""
        return {**self.cleaned_data, "at": day_as_time(self.cleaned_data["on"], self.now)}
