"""The school year's end, and one holiday."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.people.forms.schools import SettingsForm
from fleet.people.models import Holiday, School

FURTHEST_END = timedelta(days=2 * 366)
LONGEST_HOLIDAY = timedelta(days=183)


def end_that_can_be(ends: date, today: date) -> date:
    """The end of a school year that runs or comes. Raises ValidationError for a day that is past or too far away."""
    if ends < today:
        raise forms.ValidationError(_s("This day is past. A school year ends on a day that comes."))
    if ends > today + FURTHEST_END:
        raise forms.ValidationError(_s("That is more than two years from now; check the year."))
    return ends


class YearForm(SettingsForm):
    year_ends = date_field(
        _s_lazy("The school year ends on"),
        required=False,
        help_text=_s_lazy("Loans are due then, or on the last school day before."),
    )

    class Meta:
        model = School
        fields = ("year_ends",)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_year_ends(self) -> date | None:
        ends: date | None = self.cleaned_data["year_ends"]
        return end_that_can_be(ends, self.today) if ends and ends != self.initial["year_ends"] else ends


class HolidayForm(PlainSentences, RowForm[Holiday]):
    first = date_field(_s_lazy("First day"))
    last = date_field(_s_lazy("Last day"), required=False, help_text=_s_lazy("Left empty, it is one day."))

    class Meta:
        model = Holiday
        fields = ("name", "first", "last")
        labels = {"name": _s_lazy("Name")}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        first, last = said.get("first"), said.get("last")
        if first and "last" in said:
            said["last"] = last = last or first
            if last < first:
                self.add_error("last", _s("The last day comes before the first."))
            elif last - first > LONGEST_HOLIDAY:
                self.add_error("last", _s("That is more than half a year; check the years."))
        return said
