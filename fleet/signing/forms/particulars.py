"""What goes along with a horn, until when, and who signs.

It is read from the address, so that nothing is kept half done.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.actions.issuing import MOST_ACCESSORIES, once_each
from fleet.lending.forms.dates import LONGEST_LOAN, propose_due
from fleet.lending.models.accessories import USUAL_ACCESSORIES
from fleet.people.models import Guardian, Pupil
from fleet.people.queries.school_days import SchoolDays
from fleet.signing.models import OnlineSignature

# Ticked beforehand.
TICKED = USUAL_ACCESSORIES[:2]


class SharedForm(PlainSentences, forms.Form):
    """What goes along with a horn, or with each of several, and until when; filled from the address."""

    due_on = date_field(_s_lazy("Due back on"))
    accessories = forms.MultipleChoiceField(
        label=_s_lazy("Goes along with it"),
        required=False,
        choices=[(name, _s_lazy(name)) for name in USUAL_ACCESSORIES],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": _s_lazy("Write what is not in the list into the line below it.")},
    )
    more = forms.CharField(
        label=_s_lazy("And also"),
        required=False,
        max_length=600,
        help_text=_s_lazy("With commas between, like: mute, spare string."),
    )

    def __init__(self, *args: Any, today: date, days: SchoolDays, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.days = today, days
        propose_due(self, days, today)
        self.initial.setdefault("accessories", list(TICKED))

    def clean_due_on(self) -> date:
        due_on: date = self.cleaned_data["due_on"]
        if due_on < self.today:
            raise ValidationError(_s("%(due_on)s is in the past.") % {"due_on": day(due_on)})
        if due_on > self.today + LONGEST_LOAN:
            raise ValidationError(_s("That is more than ten years from now. Renew the loan when the time comes."))
        return due_on

    @property
    def due_warning(self) -> str:
        """What to say beside a due day that somebody typed and that is no school day."""
        due_on = self.cleaned_data.get("due_on") if self.is_bound else None
        return self.days.warning(due_on) if due_on else ""

    def clean_more(self) -> str:
        more: str = self.cleaned_data["more"]
        if any(len(name.strip()) > 60 for name in more.split(",")):
            raise ValidationError(_s("Name each thing in at most 60 characters, with commas between."))
        return more

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if len(self.along()) > MOST_ACCESSORIES:
            self.add_error(
                "more",
                _s("A loan sheet has room for %(most)s things in all.") % {"most": MOST_ACCESSORIES},
            )
        return cleaned

    def along(self) -> list[str]:
        """Everything that goes along, each once."""
        more = self.cleaned_data.get("more", "").split(",")
        return once_each([*self.cleaned_data.get("accessories", []), *more])


class ParticularsForm(SharedForm):
    """The same for one loan, and who signs."""

    guardian = forms.ChoiceField(
        label=_s_lazy("Who signs"),
        widget=forms.RadioSelect,
        error_messages={
            "invalid_choice": _s_lazy("Only a guardian of this pupil can sign."),
            "required": _s_lazy("Choose the guardian who signs."),
        },
    )

    def __init__(self, *args: Any, pupil: Pupil, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pupil = pupil
        self.guardians = {str(guardian.pk): guardian for guardian in pupil.guardians.order_by("sorted_by", "pk")}
        self.fields["guardian"].choices = [(key, str(one)) for key, one in self.guardians.items()]  # type: ignore[attr-defined]
        if len(self.guardians) == 1:
            self.initial.setdefault("guardian", next(iter(self.guardians)))

    def clean_guardian(self) -> Guardian:
        return self.guardians[self.cleaned_data["guardian"]]


class SignedForm(PlainSentences, forms.Form):
    signed = forms.BooleanField(
        label=_s_lazy("The guardian has signed the printed sheet"),
        error_messages={"required": _s_lazy("The guardian signs before the horn goes out.")},
    )
    signed_on = date_field(_s_lazy("Signed on"))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("signed_on", today)

    def clean_signed_on(self) -> date:
        signed_on: date = self.cleaned_data["signed_on"]
        if signed_on > self.today:
            raise ValidationError(_s("%(signed_on)s has not come yet.") % {"signed_on": day(signed_on)})
        return signed_on


class OtherForm(PlainSentences, forms.Form):
    """The button that takes back what waits for a horn, with the key of the signature the page showed."""

    signature = forms.CharField(required=False)
    signed_seen = forms.BooleanField(required=False)

    def names(self, waits: OnlineSignature) -> bool:
        """Whether the page showed just this one; what waits may be another by now."""
        return bool(self.cleaned_data["signature"] == str(waits.pk))


class SheetsForm(PlainSentences, forms.Form):
    """The button that puts sheets away, with their keys, blanks between."""

    sheet = forms.CharField(required=False)

    def clean_sheet(self) -> list[int]:
        return [key for said in self.cleaned_data["sheet"].split() if (key := whole(said)) is not None]


class TicksForm(forms.Form):
    """Whose sheets of a batch are ticked, by the keys of its loans, and the day of signing as it was typed."""

    signed = forms.Field(required=False, widget=forms.MultipleHiddenInput)
    signed_on = forms.CharField(required=False)

    def said(self) -> tuple[set[str], str]:
        """(ticked, day)"""
        self.full_clean()
        return set(self.cleaned_data["signed"]), self.cleaned_data.get("signed_on", "")
