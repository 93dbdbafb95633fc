"""The form of a swap: a return and an issue in one."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from fleet.lending.forms.returning import ReturnForm
from fleet.lending.models import Loan
from fleet.lending.models.loans import USUAL_ACCESSORIES
from fleet.lending.queries.swapping import instead_of
from fleet.register.models import Horn
from fleet.register.models.kinds import stand_in_words
from fleet.workshop.forms.checks import CheckForm


class SwapForm(ReturnForm):
    """A return and an issue in one: what came back, and which horn goes out instead."""

    page, deed = "swap", "Swap"
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

    def __init__(self, *args: Any, loan: Loan, today: date, check: CheckForm, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, today=today, check=check, **kwargs)
        del self.fields["returned_on"]
        self.fields["to"].queryset = instead_of(loan)  # type: ignore[attr-defined]
        self.fields["to"].label_from_instance = _as_offered  # type: ignore[attr-defined]
        self.fields["came_back"].label = "Comes back with it"
        self.fields["came_back"].help_text = "What is left unticked stays with the pupil."
        self.initial["came_back"] = [thing.pk for thing in self.things if thing.name != "mouthpiece"]

    @property
    def said(self) -> dict[str, Any]:
        """What the swap needs besides the check."""
        return {"to": self.cleaned_data["to"], "goes_along": self.cleaned_data["goes_along"], **self._came()}


def _as_offered(horn: Horn) -> str:
    stand = f", stands in {stand_in_words(horn.stands_in)}" if horn.stands_in else ""
    return f"{horn.number}: {horn.kind}{stand}"
