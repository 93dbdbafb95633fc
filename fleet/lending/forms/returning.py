"""Forms of a return and of a mouthpiece cleaned after it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.fields import KeptForm, date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.lending.models.accessories import USUAL_ACCESSORIES
from fleet.workshop.forms.checks import CheckForm, finish_field


class ReturnForm(PlainSentences, forms.Form):
    """A return with the check that belongs to it: both are sound, or neither is taken."""

    page, deed = "return", _s_lazy("Take back %(horn)s")
    returned_on = date_field(_s_lazy("Came back on"))
    came_back = forms.TypedMultipleChoiceField(
        label=_s_lazy("Came back"),
        coerce=int,
        required=False,
        help_text=_s_lazy("Untick what is missing."),
        widget=forms.CheckboxSelectMultiple,
    )
    mouthpiece_cleaned_on = date_field(
        _s_lazy("Mouthpiece cleaned on"),
        required=False,
        help_text=_s_lazy("Inside and out, with disinfectant. Left empty, the horn is not lent until it is done."),
    )
    return_notes = forms.CharField(
        label=_s_lazy("Notes on the return"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_s_lazy("For staff; families do not see them."),
    )
    kept = forms.Field(required=False, widget=forms.MultipleHiddenInput)

    def __init__(self, *args: Any, loan: Loan, today: date, check: CheckForm, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.loan, self.today, self.check = loan, today, check
        self.things = list(loan.accessories.all())
        self.fields["came_back"].choices = [(thing.pk, str(thing)) for thing in self.things]  # type: ignore[attr-defined]
        note = loan.as_noted
        # A note tells of the usual accessories only; anything else is ticked as without one.
        missing = set(USUAL_ACCESSORIES).difference(note.came_back) if note else set()
        self.initial.setdefault("came_back", [thing.pk for thing in self.things if thing.name not in missing])
        self.initial.setdefault("returned_on", timezone.localdate(note.at) if note else today)
        self.initial.setdefault("return_notes", note.words if note else "")

    @property
    def title(self) -> str:
        return self.deed % {"horn": self.loan.horn}

    def is_valid(self) -> bool:
        # Both are looked at, so that everything wrong is said at once.
        return all([super().is_valid(), self.check.is_valid()])

    @property
    def said(self) -> dict[str, Any]:
        """What taking the horn back needs besides the check."""
        return {"returned_on": self.cleaned_data["returned_on"], **self._came()}

    @property
    def pictures_kept(self) -> list[str]:
        """The words that name pictures kept beside the form (`unsaved_pictures`)."""
        return list(self.cleaned_data.get("kept") or ()) if self.is_bound else []

    def _came(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "came_back": data["came_back"],
            "mouthpiece_cleaned_on": data["mouthpiece_cleaned_on"],
            "notes": data["return_notes"],
        }

    def clean_returned_on(self) -> date:
        returned_on: date = self.cleaned_data["returned_on"]
        if returned_on < self.loan.issued_on:
            raise ValidationError(
                _s("It went out on %(issued_on)s; it cannot come back before that.")
                % {"issued_on": day(self.loan.issued_on)}
            )
        if returned_on > self.today:
            raise ValidationError(_s("%(returned_on)s has not come yet.") % {"returned_on": day(returned_on)})
        return returned_on

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned_on, returned_on = cleaned.get("mouthpiece_cleaned_on"), cleaned.get("returned_on")
        if cleaned_on and cleaned_on > self.today:
            self.add_error(
                "mouthpiece_cleaned_on", _s("%(cleaned_on)s has not come yet.") % {"cleaned_on": day(cleaned_on)}
            )
        elif cleaned_on and returned_on and cleaned_on < returned_on:
            self.add_error("mouthpiece_cleaned_on", _s("Clean it after the last player has given it back."))
        return cleaned


class NotedForm(PlainSentences, KeptForm):
    """That a horn came back, noted where nobody can see what went out with it."""

    came_back = forms.MultipleChoiceField(
        label=_s_lazy("Came back with it"),
        required=False,
        choices=[(name, _s_lazy(name)) for name in USUAL_ACCESSORIES],
        widget=forms.CheckboxSelectMultiple,
    )
    finish_grade = finish_field()
    words = forms.CharField(
        label=_s_lazy("Note"),
        required=False,
        max_length=300,
        help_text=_s_lazy("About the horn, not about people; for staff only."),
    )

    @property
    def said(self) -> dict[str, Any]:
        """What noting it takes: came_back (names), finish_grade, words, sent_as, waited."""
        given = self.cleaned_data
        names = ("came_back", "finish_grade", "words", "sent_as")
        return {**{name: given[name] for name in names}, "waited": self.waited}


class MouthpieceForm(PlainSentences, forms.Form):
    cleaned_on = date_field(_s_lazy("Cleaned on"))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("cleaned_on", today)
