"""The record of acts, for heads: who changed what, when, from which page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.desk.queries.record import ABOUT, acts_asked_for, who_acted
from fleet.ground.addresses import searched_for, whole
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable
from fleet.people.queries.seats import SeatedRequest
from fleet.record.actions.emptying import ENTRY_KEPT, KEPT
from fleet.record.actions.sealing import seal
from fleet.record.models import Act, Chain, Kind

# The page about what an act is about, by the word with which it is told.
PAGES = {
    "horn": "desk:horn",
    "pupil": "people:pupil",
    "guardian": "people:guardian-edit",
}
SHOWN = 16


class ActTable(ListTable):
    around = {"class": "table-wrap rows acts"}

    at = Computed(_s_lazy("When"))
    by = Computed(_s_lazy("Who"))
    what = Computed(_s_lazy("What"))
    page = Computed(_s_lazy("From which page"))
    number = Computed(_s_lazy("Act"))

    class Meta:
        orderable = False
        per_page = 15
        empty_text = _s_lazy("Nothing is found.")

    def __init__(self, *args: object, school: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.school = school

    def render_at(self, record: Act) -> str:
        at = timezone.localtime(record.at)
        return f"{date_format(at, 'SHORT_DATE_FORMAT')}, {at:%H:%M:%S}"

    def render_by(self, record: Act) -> SafeString | str:
        if record.by_name:
            return format_html("<bdi>{}</bdi>", record.by_name)
        return _s("(removed)") if record.by_id else _s("nobody signed in")

    def render_what(self, record: Act) -> SafeString:
        said = [line for line in record.lines if len(line) == 2 and not self._is_who(record, line)]
        facts = [format_html("{}: {}", label, self._linked(record, label, words)) for label, words in said if words]
        lines = [format_html_join(" · ", "{}", ((fact,) for fact in facts or self._now(record)))]
        lines += [
            format_html("{}: <bdi>{}</bdi> → <bdi>{}</bdi>", label, before or "–", after or "–")
            for label, before, after in (line for line in record.lines if len(line) == 3)
        ]
        told = format_html_join("", '<br><span class="quiet">{}</span>', ((line,) for line in lines if line))
        return format_html("{}{}", record.what, told)

    @staticmethod
    def _is_who(record: Act, line: list[str]) -> bool:
        """Whether a line says once more who did it."""
        return record.account_id is not None and record.account_id == record.by_id and line[1] == record.by_name

    def _now(self, record: Act) -> list[SafeString]:
        """What stands there now, where the act itself tells nothing any more."""
        if record.told:
            return []
        rows = ((name, getattr(record, name)) for name in ABOUT)
        found = [(name, str(row)) for name, row in rows if row is not None]
        return [format_html("{}: {}", name, self._linked(record, name, words)) for name, words in found]

    def _linked(self, record: Act, name: str, words: str) -> SafeString:
        if name not in PAGES or getattr(record, name) is None:
            return format_html("<bdi>{}</bdi>", words)
        address = reverse(PAGES[name], args=(self.school, getattr(record, f"{name}_id")))
        return format_html('<a href="{}"><bdi>{}</bdi></a>', address, words)

    def render_page(self, record: Act) -> str:
        return record.page.replace(":", ", ").replace("-", " ").replace("_", " ") or _s("a command")

    def render_number(self, record: Act) -> str:
        return f"{record.number:,}" if record.number else ""


def record(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    seal(school=school.pk)
    table = ActTable(acts_asked_for(school, request.GET), school=school.slug)
    RequestConfig(request).configure(table)
    chain = Chain.objects.filter(school=school).first()
    shown = {
        "table": table,
        "q": searched_for(request),
        "kinds": Kind.choices,
        "kind": request.GET.get("kind", ""),
        "people": who_acted(school),
        "by": whole(request.GET.get("by")),
        "about": [(name, key) for name in ABOUT if (key := whole(request.GET.get(name))) is not None],
        "last": f"{chain.number}:{chain.seal[:SHOWN]}" if chain else "",
        "years": KEPT.days // 365,
        "entry_years": ENTRY_KEPT.days // 365,
    }
    return render(request, "desk/record.html", shown)
