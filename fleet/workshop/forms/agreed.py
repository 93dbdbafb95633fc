"""Forms of what is agreed: how one fault of a job stands, and another repairer's quote."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import amount
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import School
from fleet.workshop.actions.agreed import DONE, NOT_DONE, OPEN
from fleet.workshop.models import Finding


class FaultSaidForm(PlainSentences, forms.Form):
    """The buttons beside a fault of a job."""

    fault = forms.CharField(max_length=40)
    said = forms.ChoiceField(choices=[(one, one) for one in (DONE, NOT_DONE, OPEN)])
    why = forms.CharField(max_length=300, required=False)


class TakeInForm(PlainSentences, forms.Form):
    """A button beside a fault that an open job does not have yet, and the one that takes all of them in."""

    ALL = "all"
    take_in = forms.CharField(max_length=40)

    def faults(self, there: Iterable[Finding]) -> list[str]:
        said: str = self.cleaned_data["take_in"]
        return [one.fault for one in there] if said == self.ALL else [said]


class QuoteForm(PlainSentences, forms.Form):
    repairer = forms.CharField(
        label=_s_lazy("Another repairer"),
        max_length=120,
        error_messages={"required": _s_lazy("Say which repairer asks this.")},
    )
    amount = amount(_s_lazy("A quote cannot be less than nothing."))
    words = forms.CharField(label=_s_lazy("Their terms"), max_length=300, required=False)

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        # It stands beside the repairer's own form, whose fields are called the same.
        super().__init__(*args, **kwargs | {"auto_id": "another_%s"})
        self.fields["amount"].label = _s("Their quote in %(currency)s") % {"currency": school.currency}
        self.fields["amount"].required = True


class QuotePressedForm(PlainSentences, forms.Form):
    """A button beside another repairer's quote: "take-7" or "drop-7"."""

    do = forms.RegexField(r"^(take|drop)-\d{1,18}$", error_messages={"invalid": _s_lazy("Press one of the buttons.")})

    @property
    def takes(self) -> bool:
        return bool(self.cleaned_data["do"].startswith("take"))

    @property
    def quote(self) -> int:
        return int(self.cleaned_data["do"].partition("-")[2])
