"""The list of loans: what it can be narrowed by, its order, one page of it in three look-ups."""

from __future__ import annotations

from collections.abc import Hashable
from datetime import date

import django_filters
from django.db.models import prefetch_related_objects
from django.http import QueryDict

from fleet.ground.fields import NarrowedBy
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import ByKey, OnePage, one_page
from fleet.lending.models import Loan, LoanQuerySet
from fleet.people.models import School
from fleet.people.models.searched import few_of, words_of
from fleet.people.models.trigrams import PUPILS, having, looked_up
from fleet.register.models.numbers import numbered
from fleet.register.models.searching import ways_by_number

EMPTY = {
    "open": _s_lazy("No horn is out."),
    "overdue": _s_lazy("Nothing is overdue."),
    "soon": _s_lazy("Nothing is due soon."),
    "ended": _s_lazy("No loan has ended yet."),
}
STATES = (
    ("open", _s_lazy("out now")),
    ("overdue", _s_lazy("overdue")),
    ("soon", _s_lazy("due soon")),
    ("ended", _s_lazy("ended")),
)
# What each sort orders by; the primary key breaks ties.
SORTS = {
    "horn": ("horn__number_stem", "horn__number_tail"),
    "pupil": ("pupil__sorted_by",),
    "issued_on": ("issued_on",),
    "due_on": ("due_on",),
    "returned_on": ("returned_on",),
}

# In the order of horns and of pupils loans are read along theirs, not along their own.
ALONG = {"horn": "horn__school", "pupil": "pupil__school"}


class LoanFilters(NarrowedBy):
    q = django_filters.CharFilter(label=_s_lazy("Pupil or number"), method="find", max_length=80)
    state = django_filters.ChoiceFilter(
        label=_s_lazy("Which"), choices=STATES, empty_label=_s_lazy("all"), method="by_state"
    )

    class Meta:
        model = Loan
        fields: list[str] = []

    def __init__(self, data: QueryDict, *, school: School, today: date) -> None:
        super().__init__(data, school=school)
        self.today = today

    def find(self, loans: LoanQuerySet, name: str, value: str) -> LoanQuerySet:
        asked = words_of(value)
        found = loans.filter(*(having(word, "pupil__search") | numbered(word, "horn__") for word in asked))
        if not asked:
            return found
        # Either all of them are the pupil's, or one is the number's.
        by_number = (way for word in asked for way in ways_by_number(found, "horn", word, self.school))
        few = few_of(looked_up(found, PUPILS, asked, self.school, way="pupil"), *by_number)
        return found if few is None else loans.filter(pk__in=few)

    def by_state(self, loans: LoanQuerySet, name: str, value: str) -> LoanQuerySet:
        if value == "overdue":
            return loans.overdue(self.today)
        if value == "soon":
            return loans.due_soon(self.today, self.school.soon_days)
        return loans.ended() if value == "ended" else loans.open()

    def found(self, sort: str) -> LoanQuerySet:
        """The loans asked for, to be put in this order."""
        along = ALONG.get(sort.removeprefix("-"))
        loans: LoanQuerySet = self.filter_queryset(Loan.objects.filter(**{along: self.school})) if along else self.qs
        return loans

    def like(self, sort: str) -> Hashable:
        """What tells the list in that order apart from every other, where neither words nor the day narrow it."""
        narrowed = self.which in {"overdue", "soon"} or self.form.cleaned_data.get("q")
        return None if narrowed else ("loans", self.school.pk, self.which, sort)

    @property
    def which(self) -> str:
        """The state asked for, "" for all."""
        self.form.is_valid()
        return str(self.form.cleaned_data.get("state", ""))


def loans_asked(said: QueryDict, school: School, today: date) -> LoanFilters:
    """The loans that an address asks for; those that are out where it says no state."""
    asked = said.copy()
    asked.setdefault("state", "open")
    return LoanFilters(asked, school=school, today=today)


def usual_sort(state: str) -> str:
    return "-returned_on" if state == "ended" else "due_on"


def sort_of(said: str, *, state: str) -> str:
    """A sort as an address may say it, or the usual one of loans in that state."""
    return said if said.removeprefix("-") in SORTS else usual_sort(state)


# What the list shows of a loan and of whom and what it is about.
_SHOWN = ByKey(
    Loan.objects.order_by(),
    *("issued_on", "due_on", "returned_on", "lost_words", "horn__number", "horn__build", "horn__noted_back"),
    *("pupil__name", "pupil__year", "pupil__group", "guardian__name", "guardian__email", "guardian__telephone"),
)


def in_order(sort: str) -> list[str]:
    sign = "-" if sort.startswith("-") else ""
    return [f"{sign}{column}" for column in (*SORTS[sort.removeprefix("-")], "pk")]


def page_of(filters: LoanFilters, *, sort: str, number: int) -> OnePage[Loan]:
    """Page `number` (from 1; one past the end becomes the last) in the order of a sort such as `-due_on`.

    Three queries, and one more where any ended.
    """
    like = filters.like(sort)
    page = one_page(
        lambda: filters.found(sort),
        _SHOWN,
        order=in_order(sort),
        number=number,
        like=like,
        counted_as=(lambda: filters.qs.order_by()) if like else None,
    )
    # Only those that ended can be. Joined to, SQLite reads every loan for each row: almost none stands in a place.
    prefetch_related_objects([row for row in page.rows if row.returned_on], "replaced_by")
    return page
