"""The list of loans: what it can be narrowed by, its order, one page of it in two look-ups, its table.

First the page's keys and how many there are, counted to 1,000; then the page's rows by primary key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Q
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html

from fleet.loans.models import Loan, LoanQuerySet
from fleet.people.models import School
from fleet.register.tables import InOrder
from fleet.templatetags.fleet_tags import badge

COUNTED_TO = 1000
PAGE = 25
EMPTY = {
    "open": "No horn is out.",
    "overdue": "Nothing is overdue.",
    "soon": "Nothing is due soon.",
    "ended": "No loan has ended yet.",
}
STATES = (("open", "out now"), ("overdue", "overdue"), ("soon", "due soon"), ("ended", "ended"))
# What each sort orders by; the primary key breaks ties.
SORTS = {
    "horn": ("horn__number_stem", "horn__number_tail"),
    "pupil": ("pupil__name",),
    "issued_on": ("issued_on",),
    "due_on": ("due_on",),
    "returned_on": ("returned_on",),
}


class LoanFilters(django_filters.FilterSet):
    q = django_filters.CharFilter(label="Pupil or number", method="find", max_length=80)
    state = django_filters.ChoiceFilter(label="Which", choices=STATES, empty_label="all", method="by_state")

    class Meta:
        model = Loan
        fields: list[str] = []

    def __init__(self, *args: Any, school: School, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school, self.today = school, today

    def find(self, loans: LoanQuerySet, name: str, value: str) -> LoanQuerySet:
        for word in value.replace("\0", " ").split()[:6]:
            loans = loans.filter(
                Q(pupil__name__icontains=word) | Q(pupil__group__icontains=word) | Q(horn__number__icontains=word)
            )
        return loans

    def by_state(self, loans: LoanQuerySet, name: str, value: str) -> LoanQuerySet:
        if value == "overdue":
            return loans.overdue(self.today)
        if value == "soon":
            return loans.due_soon(self.today, self.school.soon_days)
        return loans.ended() if value == "ended" else loans.open()


@dataclass(frozen=True, slots=True)
class Page:
    """Rows of one page. `total` is exact up to 1,000; `more` says that there are more than that."""

    rows: list[Loan]
    number: int
    total: int
    more: bool
    has_next: bool

    @property
    def previous(self) -> int | None:
        return self.number - 1 if self.number > 1 else None

    @property
    def next(self) -> int | None:
        return self.number + 1 if self.has_next else None


def sort_of(said: str, *, state: str) -> str:
    """A sort as an address may say it, or the usual one of loans in that state."""
    usual = "-returned_on" if state == "ended" else "due_on"
    return said if said.removeprefix("-") in SORTS else usual


def in_order(sort: str) -> list[str]:
    sign = "-" if sort.startswith("-") else ""
    return [f"{sign}{column}" for column in (*SORTS[sort.removeprefix("-")], "pk")]


def page_of(loans: LoanQuerySet, *, sort: str, number: int) -> Page:
    """Page `number` (from 1; one past the end becomes the last) in the order of a sort such as `-due_on`.

    Two queries.
    """
    keys = list(loans.order_by(*in_order(sort)).values_list("pk", flat=True)[: max(COUNTED_TO, number * PAGE) + 1])
    more = len(keys) > COUNTED_TO
    number = max(1, min(number, -(-len(keys) // PAGE)))
    start = (number - 1) * PAGE
    rows = Loan.objects.select_related("horn", "pupil").in_bulk(keys[start : start + PAGE])
    return Page(
        rows=[rows[key] for key in keys[start : start + PAGE] if key in rows],
        number=number,
        total=min(len(keys), COUNTED_TO),
        more=more,
        has_next=start + PAGE < len(keys),
    )


class LoanTable(tables.Table):
    pupil = tables.Column("Pupil")
    horn = tables.Column("Horn")
    issued_on = tables.Column("Out since")
    due_on = tables.Column("Due back")
    returned_on = tables.Column("Ended")

    class Meta:
        default = "–"

    def __init__(self, rows: Sequence[Loan], *, school: School, today: date, sort: str, **kwargs: Any) -> None:
        self.school, self.today = school, today
        super().__init__(InOrder(list(rows)), order_by=sort, **kwargs)

    def render_pupil(self, record: Loan) -> str:
        address = reverse("loans:loan", args=(self.school.slug, record.pk))
        pupil = record.pupil
        group = ", ".join(filter(None, (pupil.year and f"year {pupil.year}", pupil.group)))
        return format_html('<a href="{}"><bdi>{}</bdi></a> <span class="quiet">{}</span>', address, pupil, group)

    def render_horn(self, record: Loan) -> str:
        address = reverse("desk:horn", args=(self.school.slug, record.horn_id))
        return format_html('<a href="{}">{}</a> <span class="quiet">{}</span>', address, record.horn, record.horn.kind)

    def render_issued_on(self, value: date) -> str:
        return date_format(value)

    def render_due_on(self, record: Loan) -> str:
        over = record.days_over(self.today)
        if not over:
            return date_format(record.due_on)
        days = "1 day" if over == 1 else f"{over} days"
        return format_html("{} {}", date_format(record.due_on), badge("stop", "!", f"{days} overdue"))

    def render_returned_on(self, record: Loan) -> str:
        ended = date_format(record.returned_on or self.today)
        return format_html("{} {}", ended, badge("stop", "!", "lost")) if record.was_lost else ended
