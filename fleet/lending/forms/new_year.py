"""What becomes of each class in a new school year, as it is chosen and then looked over."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import day
from fleet.lending.queries.new_year import (
    AS_IS,
    GO_ON,
    LEAVE,
    RECALL,
    RENEW,
    ClassNow,
    ClassWish,
    YearWish,
    last_class,
)
from fleet.people.forms.classes import OfAClass
from fleet.people.forms.school_year import end_that_can_be
from fleet.people.models import School
from fleet.people.queries.school_days import SchoolDays, in_year

LONGEST_AGO = timedelta(days=366)
PUPILS = ((GO_ON, _s_lazy("go on")), (LEAVE, _s_lazy("leave the school")))
HORNS = (
    (RENEW, _s_lazy("are lent until the new end")),
    (RECALL, _s_lazy("are called back")),
    (AS_IS, _s_lazy("stay due as they are")),
)


class NewYearForm(OfAClass, forms.Form):
    """Both days, and four fields a class: whether it is ticked, what its pupils do, its name then, its horns; a fifth
    where the name is close to another class's.

    A class is known by its place in the list; what it was then travels along.
    """

    ends = date_field(_s_lazy("The new school year ends on"))
    last_day = date_field(_s_lazy("Last day of those who leave"))

    def __init__(
        self, *args: Any, school: School, classes: Sequence[ClassNow], days: SchoolDays, today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.school, self.classes, self.today = school, classes, today
        leaving = last_class(classes)
        for at, one in enumerate(classes):
            leaves = leaving is not None and one.number == leaving
            self.fields |= {
                f"c{at}-is": forms.CharField(widget=forms.HiddenInput, initial=one.key, required=False, strip=False),
                f"c{at}-ticked": forms.BooleanField(label=one.words, required=False, initial=True),
                f"c{at}-pupils": forms.ChoiceField(
                    label=_s("Pupils of %(one)s") % {"one": one.words},
                    choices=PUPILS,
                    initial=LEAVE if leaves else GO_ON,
                ),
                f"c{at}-group": forms.CharField(
                    label=_s("Class or ensemble then"), max_length=60, required=False, initial=one.next_group
                ),
                f"c{at}-loans": forms.ChoiceField(
                    label=_s("Their horns"), choices=HORNS, initial=RECALL if leaves else RENEW
                ),
            }
        self.groups = {one.group for one in classes} | {one.next_group for one in classes}
        for at in range(len(classes)):
            if self.data.get(f"c{at}-ticked") and self.data.get(f"c{at}-pupils") != LEAVE:
                self.ask_of_close(f"c{at}-group", f"c{at}-another")
        if school.year_ends:
            self.initial.setdefault("ends", max(in_year(school.year_ends, school.year_ends.year + 1), today))
        self.initial.setdefault("last_day", days.last(school.year_ends or today))

    @property
    def rows(self) -> list[tuple[ClassNow, dict[str, BoundField], str, bool]]:
        """Each class with its fields, what they say in words, and whether something in them must be put right."""
        names = ("is", "ticked", "pupils", "group", "another", "loans")
        rows = [
            (one, {name: self[f"c{at}-{name}"] for name in names if f"c{at}-{name}" in self.fields})
            for at, one in enumerate(self.classes)
        ]
        return [(one, row, _in_words(row), any(field.errors for field in row.values())) for one, row in rows]

    def clean_ends(self) -> date:
        ends: date = self.cleaned_data["ends"]
        if self.school.year_ends and ends <= self.school.year_ends:
            raise forms.ValidationError(
                _s("The year before ends on %(year_ends)s; a new one ends later.")
                % {"year_ends": day(self.school.year_ends)}
            )
        return end_that_can_be(ends, self.today)

    def clean_last_day(self) -> date:
        last_day: date = self.cleaned_data["last_day"]
        if last_day < self.today - LONGEST_AGO:
            raise forms.ValidationError(_s("That is more than a year ago; check the year."))
        return last_day

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        ends, last_day = said.get("ends"), said.get("last_day")
        if ends and last_day and last_day >= ends:
            self.add_error("last_day", _s("That is after the new school year."))
        if any(said.get(f"c{at}-is") != one.key for at, one in enumerate(self.classes)):
            raise forms.ValidationError(_s("The classes are no longer as they were. Look through them once more."))
        ticked = [at for at in range(len(self.classes)) if said.get(f"c{at}-ticked")]
        if not ticked:
            raise forms.ValidationError(_s("Tick the classes that are to go on or leave."))
        for at in ticked:
            leaves = said.get(f"c{at}-pupils") == LEAVE
            if leaves and said.get(f"c{at}-loans") == RENEW:
                self.add_error(f"c{at}-loans", _s("Who leaves brings the horn back: nothing is lent to them longer."))
            if not leaves and self.classes[at].group and not said.get(f"c{at}-group", "x"):
                self.add_error(f"c{at}-group", _s("Say what the class is called then."))
        return said

    def wish(self) -> YearWish:
        said = self.cleaned_data
        chosen = {
            one.key: ClassWish(said[f"c{at}-pupils"] == LEAVE, said[f"c{at}-group"], said[f"c{at}-loans"])
            for at, one in enumerate(self.classes)
            if said[f"c{at}-ticked"]
        }
        return YearWish(said["ends"], said["last_day"], chosen)


def _in_words(row: dict[str, BoundField]) -> str:
    pupils, group, loans = (row[name].value() for name in ("pupils", "group", "loans"))
    said = _s("they go on; horns %(loans)s")
    if pupils == LEAVE:
        said = _s("they leave the school; horns %(loans)s")
    elif group:
        said = _s("they go on as %(group)s; horns %(loans)s")
    return said % {"group": group, "loans": dict(HORNS).get(loans, "…")}


class LookedOverForm(PlainSentences, forms.Form):
    """What comes with the last button: who stays as they are, and the proof of what was looked over."""

    left_out = forms.Field(required=False, widget=forms.MultipleHiddenInput)
    seen = forms.CharField(required=False)

    def clean_left_out(self) -> set[int]:
        said = self.cleaned_data["left_out"] or []
        return {key for one in said if (key := whole(one)) is not None}
