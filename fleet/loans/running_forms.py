"""Forms of a loan while it runs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import Case, When

from fleet.loans.forms import LONGEST_LOAN, USUAL_ACCESSORIES, ReturnForm, date_field
from fleet.loans.lending import day
from fleet.loans.models import Charge, Loan
from fleet.register.kinds import build_of, stand_in_words
from fleet.register.models import Horn, HornQuerySet
from fleet.sentences import PlainSentences
from identify.core.catalogue import catalogue


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


class LostForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="What happened",
        max_length=280,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Where and when it was last seen, and whom the family has told. Names of others stay out.",
    )


class ChargeForm(PlainSentences, forms.Form):
    what = forms.CharField(label="For", max_length=120, help_text="Like: hire for a year, a lost mouthpiece.")
    amount = forms.DecimalField(max_digits=8, decimal_places=2, min_value=0, localize=False)
    due_on = date_field("To be paid by")

    def __init__(self, *args: Any, today: date, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = f"Amount in {currency}"
        self.initial.setdefault("due_on", today + timedelta(days=30))


class SettleForm(PlainSentences, forms.Form):
    state = forms.ChoiceField(
        label="It was", choices=[(one.value, one.label) for one in (Charge.State.PAID, Charge.State.REMITTED)]
    )


class AnswerForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="Answer", max_length=300, widget=forms.Textarea(attrs={"rows": 2}), help_text="The family reads this."
    )


class SwapForm(ReturnForm):
    """A return and an issue in one: what came back, and which horn goes out instead."""

    page = "swap"
    to = forms.ModelChoiceField(
        Horn.objects.none(),
        label="Goes out instead",
        empty_label="choose a horn",
        error_messages={"required": "Choose a horn.", "invalid_choice": "That horn may not be lent any more."},
    )

    goes_along = forms.MultipleChoiceField(
        label="Goes along with it",
        required=False,
        choices=[(name, name) for name in USUAL_ACCESSORIES],
        widget=forms.CheckboxSelectMultiple,
        initial=["case"],
        help_text="Besides what stays with the pupil.",
    )

    def __init__(self, *args: Any, loan: Loan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, **kwargs)
        del self.fields["returned_on"]
        self.fields["to"].queryset = instead_of(loan)  # type: ignore[attr-defined]
        self.fields["to"].label_from_instance = _as_offered  # type: ignore[attr-defined]
        self.fields["came_back"].help_text = "What is left unticked stays with the pupil."
        self.initial["came_back"] = [thing.pk for thing in self.things if thing.name != "mouthpiece"]


def instead_of(loan: Loan) -> HornQuerySet:
    """Horns that could go out in exchange: the same kind and stand first, then the same wrap, the same stand, the
    others; what is no French horn comes last for a pupil who plays one."""
    horn, built = loan.horn, build_of(loan.horn.build)
    known = catalogue().values()
    others = [one.code for one in known if built is not None and one.is_french_horn != built.is_french_horn]
    near = Case(
        When(build__in=others, then=4),
        When(build=horn.build, stands_in=horn.stands_in, then=0),
        When(wrap=horn.wrap, stands_in=horn.stands_in, then=1),
        When(stands_in=horn.stands_in, then=2),
        default=3,
    )
    at_hand = Horn.objects.at(loan.horn.school).kept().filter(where=Horn.Where.CUPBOARD, test_note_owed=False)
    fit = at_hand.exclude(build="").filter(grade__lt=Horn.Grade.REPAIR_FIRST)
    return fit.order_by(near, "number_stem", "number_tail", "pk")


def _as_offered(horn: Horn) -> str:
    stand = f", stands in {stand_in_words(horn.stands_in)}" if horn.stands_in else ""
    return f"{horn.number}: {horn.kind}{stand}"
