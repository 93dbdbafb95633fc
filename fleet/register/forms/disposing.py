"""The proposal to give a horn up, and the word of who decides."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS, Role
from fleet.ground.fields import DateInput, amount, not_too_long_ago
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.register.models import Disposal

NEGATIVE = _s_lazy("A price is not negative.")


def _price_in(currency: str) -> str:
    return _s("Price, %(currency)s") % {"currency": currency}


class DisposalForm(PlainSentences, forms.Form):
    """The proposal; what is paid is asked of heads, who alone see what horns are worth."""

    method = forms.ChoiceField(label=_s_lazy("How it leaves"), choices=Disposal.Method, widget=forms.RadioSelect)
    on = forms.DateField(label=_s_lazy("On"), widget=DateInput())
    reason = forms.CharField(label=_s_lazy("Why"), max_length=300, widget=forms.Textarea(attrs={"rows": 3}))
    buyer = forms.CharField(label=_s_lazy("Who gets it"), max_length=120, required=False)
    price = amount(NEGATIVE)

    def __init__(self, *args: Any, role: Role, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if role in HEADS:
            self.fields["price"].label = _price_in(currency)
        else:
            del self.fields["price"]

    def clean_on(self) -> date:
        return not_too_long_ago(self.cleaned_data["on"])

    def clean_reason(self) -> str:
        # One line on paper; a browser counts a line end as one letter and sends two.
        return " ".join(str(self.cleaned_data["reason"]).split())


class DecideForm(PlainSentences, forms.Form):
    """Approved or turned down; `price` is the head's last word on what is paid."""

    answer = forms.CharField(label=_s_lazy("A word on it"), max_length=300, required=False)
    price = amount(NEGATIVE)
    approve = forms.ChoiceField(choices=[("yes", _s_lazy("Approve")), ("no", _s_lazy("Turn it down"))], required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].label = _price_in(currency)

    @property
    def said(self) -> dict[str, Any]:
        """What deciding takes: approved, answer, price."""
        said = self.cleaned_data
        return {"approved": said["approve"] == "yes", "answer": said["answer"], "price": said["price"]}
