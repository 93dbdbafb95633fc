"""The form of a swap: a return and an issue in one."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.lending.forms.returning import ReturnForm
from fleet.lending.models import Loan
from fleet.lending.models.accessories import USUAL_ACCESSORIES
from fleet.lending.queries.swapping import instead_of
from fleet.register.models import Horn
from fleet.workshop.forms.checks import CheckForm

# Of the horns that could go out; any other is named by its number.
OFFERED = 25


class SwapForm(ReturnForm):
    """A return and an issue in one: what came back, and which horn goes out instead."""

    page, deed = "swap", _s_lazy("Swap %(horn)s")
    # A browser would insist on the choice where a number is written instead.
    use_required_attribute = False
    to = forms.ModelChoiceField(
        Horn.objects.none(),
        label=_s_lazy("Goes out instead"),
        error_messages={
            "required": _s_lazy("Choose a horn."),
            "invalid_choice": _s_lazy("That horn may not be lent any more."),
        },
    )
    other = forms.CharField(
        label=_s_lazy("Or another horn, by its number"),
        required=False,
        max_length=24,
        help_text=_s_lazy("Above stand those that are most like it."),
    )
    goes_along = forms.MultipleChoiceField(
        label=_s_lazy("Goes along with it"),
        required=False,
        choices=[(name, _s_lazy(name)) for name in USUAL_ACCESSORIES],
        widget=forms.CheckboxSelectMultiple,
        initial=["case"],
        help_text=_s_lazy("Besides what stays with the pupil."),
    )

    def __init__(self, *args: Any, loan: Loan, today: date, check: CheckForm, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, check=check, **kwargs)
        del self.fields["returned_on"]
        self.could_go = Horn.objects.at(loan.horn.school).may_be_lent()
        nearest = instead_of(loan, OFFERED + 1)
        self.fields["to"].queryset = self.could_go  # type: ignore[attr-defined]
        offered = [(horn.pk, _as_offered(horn)) for horn in nearest[:OFFERED]]
        self.fields["to"].choices = [("", _s("choose a horn")), *offered]  # type: ignore[attr-defined]
        if len(nearest) <= OFFERED:
            del self.fields["other"]
        self.fields["came_back"].label = _s("Comes back with it")
        self.fields["came_back"].help_text = _s("What is left unticked stays with the pupil.")
        self.initial["came_back"] = [thing.pk for thing in self.things if thing.name != "mouthpiece"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        number = said.get("other", "")
        if number and said.get("to"):
            self.add_error("other", _s("A horn is chosen above already. Leave one of the two empty."))
        elif number and not self.data.get("to"):
            del self.errors["to"]  # The number is the choice.
            said["to"] = self.could_go.numbered(number)
            if said["to"] is None:
                self.add_error("other", _s("No horn of this number may be lent now."))
        return said

    @property
    def said(self) -> dict[str, Any]:
        """What the swap needs besides the check."""
        return {"to": self.cleaned_data["to"], "goes_along": self.cleaned_data["goes_along"], **self._came()}


def _as_offered(horn: Horn) -> str:
    return f"{horn.number}: {horn.in_full}"
