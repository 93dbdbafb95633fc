"""The proposal to give a horn up, and the word of who decides."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from fleet.ground.fields import DateInput, not_too_long_ago
from fleet.ground.sentences import PlainSentences
from fleet.register.models import Disposal


class DisposalForm(PlainSentences, forms.Form):
    method = forms.ChoiceField(label="How it leaves", choices=Disposal.Method, widget=forms.RadioSelect)
    on = forms.DateField(label="On", widget=DateInput())
    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 3}))

    def clean_on(self) -> date:
        return not_too_long_ago(self.cleaned_data["on"])

    def clean_reason(self) -> str:
        # One line on paper; a browser counts a line end as one letter and sends two.
        return " ".join(str(self.cleaned_data["reason"]).split())


class DecideForm(PlainSentences, forms.Form):
    answer = forms.CharField(label="A word on it", max_length=300, required=False)
    approve = forms.ChoiceField(choices=[("yes", "Approve"), ("no", "Turn it down")], required=False)

    @property
    def said(self) -> dict[str, Any]:
        """What deciding takes: approved, answer."""
        return {"approved": self.cleaned_data["approve"] == "yes", "answer": self.cleaned_data["answer"]}
