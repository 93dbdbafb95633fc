"""The lists of loans and of charges as tables."""

from __future__ import annotations

from datetime import date
from functools import cache, partial
from typing import Any

from django.db.models import QuerySet
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.badges import badge, drawn, money, overdue
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ComputedFigureColumn, ListTable, RowsInPages, Tick, address_of
from fleet.ground.wording import short_day
from fleet.lending.models import Charge, Ended, Loan
from fleet.lending.queries.listing import LoanFilters, page_of
from fleet.people.models import School
from fleet.register.models.kinds import kind_in_words


class LoanTable(ListTable):
    around = {"class": "table-wrap rows loans"}
    ticks = "loan"

    tick = Tick()
    pupil = Computed(_s_lazy("Pupil"))
    horn = Computed(_s_lazy("Horn"))
    issued_on = Computed(_s_lazy("Out since"))
    due_on = Computed(_s_lazy("Due back"))
    returned_on = Computed(_s_lazy("Ended"))
    reached = Computed(_s_lazy("How to reach them"), orderable=False)

    def __init__(self, filters: LoanFilters, *, usual: str, **kwargs: Any) -> None:
        school, self.today = filters.school, filters.today
        # Said once a page, and not for every row.
        self._short, self._kind = cache(short_day), cache(kind_in_words)
        self._loan, self._horn = address_of("loans:loan", school.slug), address_of("desk:horn", school.slug)
        super().__init__(RowsInPages(partial(page_of, filters), usual=usual), order_by=usual, **kwargs)

    def render_pupil(self, record: Loan) -> str:
        link = drawn('<a href="{}"><bdi>{}</bdi></a>', self._loan(record.pk), record.pupil)
        return drawn('{} <span class="quiet">{}</span>', link, record.pupil.class_in_words)

    def render_horn(self, record: Loan) -> str:
        horn = record.horn
        return drawn(
            '<a href="{}">{}</a> <span class="quiet">{}</span>', self._horn(horn.pk), horn, self._kind(horn.build)
        )

    def render_issued_on(self, record: Loan) -> str:
        return self._short(record.issued_on, self.today)

    def render_due_on(self, record: Loan) -> str:
        return drawn("{} {}", self._short(record.due_on, self.today), overdue(record.due(self.today)))

    def render_returned_on(self, record: Loan) -> str:
        if record.returned_on is None:
            return "–"
        ended = self._short(record.returned_on, self.today)
        if record.ended_as is Ended.LOST:
            return drawn("{} {}", ended, badge("stop", "!", _s("lost")))
        if record.ended_as is Ended.SWAPPED:
            return drawn('{} <span class="quiet">{}</span>', ended, _s("swapped"))
        return ended

    def render_reached(self, record: Loan) -> str | SafeString:
        if record.guardian is None:
            return "–"
        return drawn('<bdi>{}</bdi> <span class="quiet">{}</span>', record.guardian, record.guardian.reached)


class ChargeTable(ListTable):
    around = {"class": "table-wrap rows"}

    what = Computed(_s_lazy("For"))
    pupil = Computed(_s_lazy("Pupil"))
    horn = Computed(_s_lazy("Horn"))
    amount = ComputedFigureColumn(_s_lazy("Amount"))
    due_on = Computed(_s_lazy("To be paid by"))

    class Meta:
        orderable = False
        per_page = 25
        empty_text = _s_lazy("No charge is due. Charges are added on a loan’s page.")

    def __init__(self, charges: QuerySet[Charge], *, school: School, today: date) -> None:
        self.today, self._charge = today, address_of("loans:charge", school.slug)
        super().__init__(charges)

    def render_what(self, record: Charge) -> SafeString:
        return drawn('<a href="{}">{}</a>', self._charge(record.pk), record.what)

    def render_pupil(self, record: Charge) -> SafeString:
        return drawn("<bdi>{}</bdi>", record.loan.pupil)

    def render_horn(self, record: Charge) -> str:
        return str(record.loan.horn)

    def render_amount(self, record: Charge) -> str:
        return money(record.amount, record.currency)

    def render_due_on(self, record: Charge) -> SafeString:
        return drawn("{} {}", short_day(record.due_on, self.today), overdue(record.due(self.today)))
