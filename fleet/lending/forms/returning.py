"""Forms of a return and of a mouthpiece cleaned after it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.ground.fields import date_field
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.models import Loan


class ReturnForm(PlainSentences, forms.Form):
    page = "return"
    returned_on = date_field("Came back on")
    came_back = forms.TypedMultipleChoiceField(
        label="What came back",
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    mouthpiece_cleaned_on = date_field(
        "Mouthpiece cleaned on",
        required=False,
        help_text="Inside and out, with disinfectant. Left empty, the horn waits in the cupboard until it is done.",
    )
    return_notes = forms.CharField(
        label="Notes on the return",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="For staff; families do not see them.",
    )

    def __init__(self, *args: Any, loan: Loan, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.loan, self.today = loan, today
        self.things = list(loan.accessories.all())
        self.fields["came_back"].choices = [(thing.pk, thing.name) for thing in self.things]  # type: ignore[attr-defined]
        self.initial.setdefault("came_back", [thing.pk for thing in self.things])
        self.initial.setdefault("returned_on", today)

    def clean_returned_on(self) -> date:
        returned_on: date = self.cleaned_data["returned_on"]
        if returned_on < self.loan.issued_on:
            raise ValidationError(f"It went out on {day(self.loan.issued_on)}; it cannot come back before that.")
        if returned_on > self.today:
            raise ValidationError(f"{day(returned_on)} has not come yet.")
        return returned_on

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned_on, returned_on = cleaned.get("mouthpiece_cleaned_on"), cleaned.get("returned_on")
        if cleaned_on and cleaned_on > self.today:
            self.add_error("mouthpiece_cleaned_on", f"{day(cleaned_on)} has not come yet.")
        elif cleaned_on and returned_on and cleaned_on < returned_on:
            self.add_error("mouthpiece_cleaned_on", "Clean it after the last player has given it back.")
        return cleaned


class MouthpieceForm(PlainSentences, forms.Form):
    cleaned_on = date_field("Cleaned on")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("cleaned_on", today)
