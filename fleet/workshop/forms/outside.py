"""What is agreed with a repairer outside, and when the horn went and came."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.fields import amount
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import School
from fleet.workshop.actions.outside import Outside

LONGEST = timedelta(days=3 * 365)


def day_field(label: str) -> forms.DateField:
    return forms.DateField(
        label=label, required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class OutsideForm(PlainSentences, forms.Form):
    repairer = forms.CharField(label=_s_lazy("Outside repairer"), max_length=120, required=False)
    quote = amount(_s_lazy("A quote cannot be less than nothing."))
    sent_on = day_field(_s_lazy("Sent on"))
    expected_on = day_field(_s_lazy("Expected back on"))
    back_on = day_field(_s_lazy("Back on"))
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, school: School, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["quote"].label = _s("Quote in %(currency)s") % {"currency": school.currency}
        if school.approve_above is not None:
            self.fields["quote"].help_text = _s("Above %(approve_above)s %(currency)s a head approves it first.") % {
                "approve_above": money(school.approve_above),
                "currency": school.currency,
            }

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        sent, expected, back = (said.get(name) for name in ("sent_on", "expected_on", "back_on"))
        if sent and not said.get("repairer"):
            self.add_error("repairer", _s("Say to which repairer the horn was sent."))
        for name, day in (("sent_on", sent), ("back_on", back)):
            if day and day > self.today:
                self.add_error(name, _s("This day is still to come."))
        if back and not sent:
            self.add_error("sent_on", _s("Say when it was sent."))
        if sent and back and back < sent:
            self.add_error("back_on", _s("A horn cannot come back before it was sent."))
        if sent and expected and not sent <= expected <= sent + LONGEST:
            self.add_error("expected_on", _s("Choose a day after it was sent, within three years."))
        return said

    def said(self) -> Outside:
        return Outside(**{name: value for name, value in self.cleaned_data.items() if name != "seen"})

    def go_on_from(self, seen: int) -> None:
        """Saving once more is then a decision taken with what stands now in view."""
        self.data = {**self.data.dict(), "seen": seen}  # type: ignore[attr-defined]


class ApproveForm(PlainSentences, forms.Form):
    """The sum that the page showed, for a head's word."""

    amount = forms.DecimalField(
        error_messages={
            "required": _s_lazy("Say which sum is approved."),
            "invalid": _s_lazy("Say which sum is approved."),
        }
    )
