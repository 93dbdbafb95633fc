"""Forms of lending. What is to be issued is a form read from the address, so that nothing is kept half done."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.loans.actions import MOST_ACCESSORIES, once_each
from fleet.loans.lending import day
from fleet.loans.models import Loan
from fleet.people.models import Guardian, Pupil
from fleet.sentences import PlainSentences

# What usually goes out with a school's horn (common practice, no source). The first two are ticked beforehand.
USUAL_ACCESSORIES = (
    "mouthpiece",
    "case",
    "rotor oil",
    "slide grease",
    "cleaning cloth",
    "pull-through",
    "carrying strap",
    "music stand",
)
TICKED = USUAL_ACCESSORIES[:2]
# More would not be read before it is signed, and would not stand on the one page of the sheet.
LONGEST_AGREEMENT = 1800
LONGEST_LOAN = timedelta(days=366 * 10)


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attributes: Any) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attributes)


def date_field(label: str, **options: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=DateInput(),
        error_messages={"invalid": "Write the day like 2027-06-30.", "required": "Give a day."},
        **options,
    )


class SharedForm(PlainSentences, forms.Form):
    """What goes along with a horn, or with each of several, and until when; filled from the address."""

    due_on = date_field("Due back on")
    accessories = forms.MultipleChoiceField(
        label="Goes along with it",
        required=False,
        choices=[(name, name) for name in USUAL_ACCESSORIES],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Write what is not in the list into the line below it."},
    )
    more = forms.CharField(
        label="And also",
        required=False,
        max_length=600,
        help_text="With commas between, like: mute, spare string.",
    )

    def __init__(self, *args: Any, today: date, loan_days: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("due_on", today + timedelta(days=loan_days))
        self.initial.setdefault("accessories", list(TICKED))

    def clean_due_on(self) -> date:
        due_on: date = self.cleaned_data["due_on"]
        if due_on < self.today:
            raise ValidationError(f"{day(due_on)} is in the past.")
        if due_on > self.today + LONGEST_LOAN:
            raise ValidationError("That is more than ten years from now. Renew the loan when the time comes.")
        return due_on

    def clean_more(self) -> str:
        more: str = self.cleaned_data["more"]
        if any(len(name.strip()) > 60 for name in more.split(",")):
            raise ValidationError("Name each thing in at most 60 characters, with commas between.")
        return more

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if len(self.along()) > MOST_ACCESSORIES:
            self.add_error("more", f"A loan sheet has room for {MOST_ACCESSORIES} things in all.")
        return cleaned

    def along(self) -> list[str]:
        """Everything that goes along, each once."""
        more = self.cleaned_data.get("more", "").split(",")
        return once_each([*self.cleaned_data.get("accessories", []), *more])


class ParticularsForm(SharedForm):
    """The same for one loan, and who signs."""

    guardian = forms.ChoiceField(
        label="Who signs",
        widget=forms.RadioSelect,
        error_messages={
            "invalid_choice": "Only a guardian of this pupil can sign.",
            "required": "Choose the guardian who signs.",
        },
    )

    def __init__(self, *args: Any, pupil: Pupil, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pupil = pupil
        self.guardians = {str(guardian.pk): guardian for guardian in pupil.guardians.order_by("name", "pk")}
        self.fields["guardian"].choices = [(key, str(one)) for key, one in self.guardians.items()]  # type: ignore[attr-defined]
        if len(self.guardians) == 1:
            self.initial.setdefault("guardian", next(iter(self.guardians)))

    def clean_guardian(self) -> Guardian:
        return self.guardians[self.cleaned_data["guardian"]]


class SignedForm(PlainSentences, forms.Form):
    signed = forms.BooleanField(
        label="The guardian has signed the printed sheet",
        error_messages={"required": "The guardian signs before the horn goes out."},
    )
    signed_on = date_field("Signed on")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("signed_on", today)

    def clean_signed_on(self) -> date:
        signed_on: date = self.cleaned_data["signed_on"]
        if signed_on > self.today:
            raise ValidationError(f"{day(signed_on)} has not come yet.")
        return signed_on


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


class AgreementForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="What the guardian signs",
        max_length=LONGEST_AGREEMENT,
        widget=forms.Textarea(attrs={"rows": 14}),
        help_text="It prints on the loan sheet, where about 150 words stay easy to read.",
        error_messages={"required": "An agreement needs words."},
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)
