"""Forms that move a due date."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms

from fleet.ground.fields import date_field
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.models import Loan

LONGEST_LOAN = timedelta(days=366 * 10)


class DueForm(PlainSentences, forms.Form):
    """A new due date. `due_seen` travels along, so that two who move it at once notice."""

    due_on = date_field("Due back on")
    reason = forms.CharField(max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))
    due_seen = forms.DateField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, loan: Loan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.loan, self.today = loan, today
        self.initial.setdefault("due_seen", loan.due_on)

    def clean_due_on(self) -> date:
        due_on: date = self.cleaned_data["due_on"]
        if due_on < self.today:
            raise forms.ValidationError(f"{day(due_on)} is in the past.")
        if due_on > self.today + LONGEST_LOAN:
            raise forms.ValidationError("That is more than ten years from now.")
        return due_on


class RenewForm(DueForm):
    def __init__(self, *args: Any, loan: Loan, today: date, loan_days: int, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, **kwargs)
        self.fields["reason"].label = "Note"
        self.initial.setdefault("due_on", max(loan.due_on, today) + timedelta(days=loan_days))


class RecallForm(DueForm):
    def __init__(self, *args: Any, loan: Loan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, **kwargs)
        self.fields["reason"].required = True
        self.fields["reason"].label = "Why"
        self.fields["reason"].help_text = "The family reads this in the letter."
        self.initial.setdefault("due_on", min(today + timedelta(days=7), loan.due_on - timedelta(days=1)))
