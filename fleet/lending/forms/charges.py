"""Forms for money owed."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.lending.forms.dates import SchoolDayForm
from fleet.lending.models import Charge


class ChargeForm(SchoolDayForm):
    what = forms.CharField(
        label=_s_lazy("For"), max_length=120, help_text=_s_lazy("Like: hire for a year, a lost mouthpiece.")
    )
    amount = forms.DecimalField(max_digits=8, decimal_places=2, min_value=0, localize=False)
    due_on = date_field(_s_lazy("To be paid by"))

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = _s("Amount in %(currency)s") % {"currency": currency}
        self.initial.setdefault("due_on", self.days.next(self.today + timedelta(days=30)))

    def clean_due_on(self) -> date:
        return self.warned(self.cleaned_data["due_on"])


class SettleForm(PlainSentences, forms.Form):
    state = forms.ChoiceField(
        label=_s_lazy("It was"), choices=[(one.value, one.label) for one in (Charge.State.PAID, Charge.State.REMITTED)]
    )
