"""What becomes of each class in a new school year, as it is chosen and then looked over."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.functional import cached_property
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
# So many classes are drawn at once: a row of choices each is dear, and few schools have more.
AT_ONCE = 50
TURN = "classes-"
PUPILS = ((GO_ON, _s_lazy("go on")), (LEAVE, _s_lazy("leave the school")))
HORNS = (
    (RENEW, _s_lazy("are lent until the new end")),
    (RECALL, _s_lazy("are called back")),
    (AS_IS, _s_lazy("stay due as they are")),
)


class NewYearForm(OfAClass, forms.Form):
    """Both days, and four fields a class: whether it is ticked, what its pupils do, its name then, its horns; a fifth
    where the name is close to another class's.

    A class is known by its place in the list; what the list was then travels along as a hash. Of many classes a page of
    them is drawn at once. What was chosen on others travels along hidden; those of the pages `untouched` so far are
    not sent at all and stay as proposed.
    """

    ends = date_field(_s_lazy("The new school year ends on"))
    last_day = date_field(_s_lazy("Last day of those who leave"))
    were = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, *args: Any, school: School, classes: Sequence[ClassNow], days: SchoolDays, today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.school, self.classes, self.today = school, classes, today
        self.initial["were"] = hashlib.sha256("\n".join(one.key for one in classes).encode()).hexdigest()[:16]
        self.last_page = max(len(classes) - 1, 0) // AT_ONCE
        self.untouched = set(range(1, self.last_page + 1))
        if self.is_bound:
            self.untouched &= {whole(one) for one in str(self.data.get("untouched", "")).split()}
        leaving = last_class(classes)
        stays: dict[str, Any] = {}
        # To open the page the first classes are enough.
        for at, one in enumerate(classes if self.is_bound else classes[:AT_ONCE]):
            leaves = leaving is not None and one.number == leaving
            proposed = _fields(at, one, leaves=leaves)
            self.fields |= proposed
            if at // AT_ONCE in self.untouched:
                stays |= {name: field.initial for name, field in proposed.items()}
        if self.is_bound:
            self.data = dict(self.data.items()) | stays
            self.groups = {one.group for one in classes} | {one.next_group for one in classes}
            for at in range(len(classes)):
                if self.data.get(f"c{at}-ticked") and self.data.get(f"c{at}-pupils") != LEAVE:
                    self.ask_of_close(f"c{at}-group", f"c{at}-another")
        if school.year_ends:
            self.initial.setdefault("ends", max(in_year(school.year_ends, school.year_ends.year + 1), today))
        self.initial.setdefault("last_day", days.last(school.year_ends or today))

    @property
    def turned_to(self) -> int | None:
        """The page of classes that was asked for by a button."""
        page = whole(str(self.data.get("do", "")).partition(TURN)[2])
        return None if page is None else min(page, self.last_page)

    @cached_property
    def page(self) -> int:
        """The page of classes to draw: the one asked for, else the first where something must be put right."""
        if self.turned_to is not None or not self.is_bound:
            return self.turned_to or 0
        wrong = (at for at in range(len(self.classes)) if any(one.errors for one in self._of(at).values()))
        return next(wrong, 0) // AT_ONCE

    @property
    def other_pages(self) -> tuple[str, str]:
        """What the buttons to the classes before and after these say; empty where there are none."""
        before, after = self.page > 0, self.page < self.last_page
        return f"{TURN}{self.page - 1}" if before else "", f"{TURN}{self.page + 1}" if after else ""

    @property
    def drawn(self) -> range:
        return range(len(self.classes))[self.page * AT_ONCE : (self.page + 1) * AT_ONCE]

    @property
    def still_untouched(self) -> str:
        return " ".join(str(page) for page in sorted(self.untouched - {self.page}))

    @property
    def rows(self) -> list[tuple[ClassNow, dict[str, BoundField], str, bool]]:
        """Each class drawn with its fields, what they say in words, and whether something in them must be put right."""
        rows = [(self.classes[at], self._of(at)) for at in self.drawn]
        return [(one, row, _in_words(row), any(field.errors for field in row.values())) for one, row in rows]

    @property
    def chosen_elsewhere(self) -> list[BoundField]:
        """What was chosen on other pages of classes."""
        hidden = self.untouched | {self.page}
        ats = (at for at in range(len(self.classes)) if self.is_bound and at // AT_ONCE not in hidden)
        return [field for at in ats for field in self._of(at).values()]

    def _of(self, at: int) -> dict[str, BoundField]:
        names = ("ticked", "pupils", "group", "another", "loans")
        return {name: self[f"c{at}-{name}"] for name in names if f"c{at}-{name}" in self.fields}

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
        if said.get("were") != self.initial["were"]:
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


def _fields(at: int, one: ClassNow, *, leaves: bool) -> dict[str, forms.Field]:
    """Those of the class at this place, with what is proposed."""
    return {
        f"c{at}-ticked": forms.BooleanField(label=one.words, required=False, initial=True),
        f"c{at}-pupils": forms.ChoiceField(
            label=_s("Pupils of %(one)s") % {"one": one.words}, choices=PUPILS, initial=LEAVE if leaves else GO_ON
        ),
        f"c{at}-group": forms.CharField(
            label=_s("Class or ensemble then"), max_length=60, required=False, initial=one.next_group
        ),
        f"c{at}-loans": forms.ChoiceField(label=_s("Their horns"), choices=HORNS, initial=RECALL if leaves else RENEW),
    }


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
