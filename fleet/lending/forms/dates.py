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


class NewDayForm(PlainSentences, forms.Form):
    """A new due date, of one loan or of many."""

    due_on = date_field("Due back on")
    reason = forms.CharField(max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def ask_why(self) -> None:
        """The family is told why."""
        self.fields["reason"].required = True
        self.fields["reason"].label = "Why"
        self.fields["reason"].help_text = "The family reads this in the letter."

    def clean_due_on(self) -> date:
        due_on: date = self.cleaned_data["due_on"]
        if due_on < self.today:
            raise forms.ValidationError(f"{day(due_on)} is in the past.")
        if due_on > self.today + LONGEST_LOAN:
            raise forms.ValidationError("That is more than ten years from now.")
        return due_on


class DueForm(NewDayForm):
    """`due_seen` travels along, so that two who move the date at once notice."""

    due_seen = forms.DateField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, loan: Loan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("due_seen", loan.due_on)


class RenewForm(DueForm):
    def __init__(self, *args: Any, loan: Loan, today: date, loan_days: int, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, **kwargs)
        self.fields["reason"].label = "Note"
        self.initial.setdefault("due_on", max(loan.due_on, today) + timedelta(days=loan_days))


class RecallForm(DueForm):
    def __init__(self, *args: Any, loan: Loan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, **kwargs)
        self.ask_why()
        self.initial.setdefault("due_on", min(today + timedelta(days=7), loan.due_on - timedelta(days=1)))


class RenewManyForm(NewDayForm):
    def __init__(self, *args: Any, loan_days: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = "Note"
        self.initial.setdefault("due_on", self.today + timedelta(days=loan_days))


class RecallManyForm(NewDayForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_why()
        self.initial.setdefault("due_on", self.today + timedelta(days=7))
