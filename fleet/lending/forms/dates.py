"""Forms that move a due date."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.queries.school_days import SchoolDays

LONGEST_LOAN = timedelta(days=366 * 10)


class SchoolDayForm(PlainSentences, forms.Form):
    """Asks for a day. One that is no school day is warned of once: it travels along in `warned_of`, and is taken when
    it is sent again."""

    warned_of = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, today: date, days: SchoolDays, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.days = today, days

    def warned(self, on: date) -> date:
        warning = self.days.warning(on)
        if warning and self.data.get("warned_of") != on.isoformat():
            self.data = self.data.copy()  # type: ignore[attr-defined]
            self.data["warned_of"] = on.isoformat()  # type: ignore[index]
            raise forms.ValidationError(
                _s("%(warning)s The next school day is %(on)s. Press the button again to keep it.")
                % {"warning": warning, "on": day(self.days.next(on))}
            )
        return on

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        said.pop("warned_of", None)
        return said


class NewDayForm(SchoolDayForm):
    """A new due date, of one loan or of many."""

    due_on = date_field(_s_lazy("Due back on"))
    reason = forms.CharField(max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def ask_why(self) -> None:
        """The family is told why."""
        self.fields["reason"].required = True
        self.fields["reason"].label = _s("Why")
        self.fields["reason"].help_text = _s("The family reads this in the letter.")

    def clean_due_on(self) -> date:
        due_on: date = self.cleaned_data["due_on"]
        if due_on < self.today:
            raise forms.ValidationError(_s("%(due_on)s is in the past.") % {"due_on": day(due_on)})
        if due_on > self.today + LONGEST_LOAN:
            raise forms.ValidationError(_s("That is more than ten years from now."))
        return self.warned(due_on)


class DueForm(NewDayForm):
    """`due_seen` travels along, so that two who move the date at once notice."""

    due_seen = forms.DateField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, loan: Loan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.loan = loan
        self.initial.setdefault("due_seen", loan.due_on)

    def no(self, due_on: date) -> str:
        """Why it is no such day, if it is none."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        # Where somebody moved the day meanwhile, that is what is said.
        if "due_on" in said and said.get("due_seen") == self.loan.due_on and (no := self.no(said["due_on"])):
            self.add_error("due_on", no)
        return said


class RenewForm(DueForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = _s("Note")
        propose_due(self, self.days, max(self.loan.due_on, self.today))

    def no(self, due_on: date) -> str:
        return self.loan.not_later(due_on)


class RecallForm(DueForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_why()
        wanted = in_a_week(self.days, self.today)
        if wanted >= self.loan.due_on:
            wanted = max(self.days.last(self.loan.due_on - timedelta(days=1)), self.today)
        self.initial.setdefault("due_on", wanted)

    def no(self, due_on: date) -> str:
        return self.loan.not_sooner(due_on)


class RenewManyForm(NewDayForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].label = _s("Note")
        propose_due(self, self.days, self.today)


class RecallManyForm(NewDayForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_why()
        self.initial.setdefault("due_on", in_a_week(self.days, self.today))


def in_a_week(days: SchoolDays, today: date) -> date:
    return days.moved(today + timedelta(days=7), after=today)


def propose_due(form: forms.Form, days: SchoolDays, after: date) -> None:
    """Fills in the day on which a loan is due that begins or goes on after that day, and says below it why then."""
    proposed = days.proposed(after)
    form.initial.setdefault("due_on", proposed.on)
    if not form.is_bound:
        form.fields["due_on"].help_text = proposed.said
