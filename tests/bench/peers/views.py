"""List pages by Django's own views, in our frame and behind our doors; and rows by SQL as plain strings."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.models import Prefetch, Q
from django.http import HttpResponse
from django.template import engines
from django.utils.html import escape
from django.views.generic import ListView

from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.register.models import Horn, Place

PEER_TEMPLATE = """{% extends "base.html" %}{% block title %}Horns{% endblock %}{% block main %}
<h1>Horns</h1><form method="get"><input name="q" value="{{ request.GET.q }}"><button>Search</button></form>
<p>{{ paginator.count }} horns</p>
<table><thead><tr><th>Number</th><th>What it is</th><th>Stands in</th><th>Where</th><th>Who has it</th><th>Due</th>
<th>Place</th><th>Plays</th><th>Checked</th></tr></thead>
<tbody>{% for horn in object_list %}<tr>
<td><a href="{% url 'desk:horn' school.slug horn.pk %}">{{ horn.number }}</a></td>
<td>{{ horn.kind }}</td><td>{{ horn.stands_in }}</td><td>{{ horn.get_where_display }}</td>
{% with loan=horn.out.0 %}<td>{{ loan.pupil.name }}</td><td>{{ loan.due_on }}</td>{% endwith %}
<td>{{ horn.place }}</td><td>{{ horn.get_grade_display }}</td><td>{{ horn.checked_on }}</td></tr>{% endfor %}
</tbody></table>
{% if page_obj.has_previous %}<a href="{% with_query page=page_obj.previous_page_number %}">previous</a>{% endif %}
page {{ page_obj.number }} of {{ paginator.num_pages }}
{% if page_obj.has_next %}<a href="{% with_query page=page_obj.next_page_number %}">next</a>{% endif %}
{% endblock %}"""


class OrdinaryView(ListView):
    """An ordinary list page: right, readable, and without anything done for speed but the usual joins."""

    paginate_by = 25
    template = None
    sorts = {"number": "number", "checked": "checked_on", "due": "loans__due_on"}

    def having(self, word: str) -> Q:
        return (
            Q(number__icontains=word)
            | Q(maker__icontains=word)
            | Q(model__icontains=word)
            | Q(serial_number__icontains=word)
            | Q(build__icontains=word)
            | Q(loans__pupil__name__icontains=word, loans__returned_on=None)
        )

    def narrowed(self) -> Any:
        """The horns asked for, in the order asked for."""
        school = self.request.seat.school  # type: ignore[attr-defined]
        horns = Horn.objects.filter(school=school).select_related("place")
        for word in self.request.GET.get("q", "").split():
            horns = horns.filter(self.having(word))
        if build := self.request.GET.get("build"):
            horns = horns.filter(build=build)
        return horns.order_by(*self.sorts[self.request.GET.get("sort", "number")].split(), "pk")

    def get_queryset(self) -> Any:
        out = Loan.objects.filter(returned_on=None).select_related("pupil")
        return self.narrowed().distinct().prefetch_related(Prefetch("loans", out, to_attr="out"))

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> HttpResponse:
        if OrdinaryView.template is None:
            OrdinaryView.template = engines["django"].from_string(PEER_TEMPLATE)  # type: ignore[assignment]
        return HttpResponse(OrdinaryView.template.render(context, self.request))  # type: ignore[attr-defined]


class CarefulView(OrdinaryView):
    """The same page by somebody who measures: kept columns, no join to loans, nothing fetched that is not shown."""

    sorts = {"number": "number_stem number_tail", "checked": "checked_on", "due": "due_on"}
    shown = ("number", "build", "stands_in", "where", "grade", "checked_on", "holder_name", "due_on")

    def having(self, word: str) -> Q:
        return (
            Q(number__icontains=word)
            | Q(maker__icontains=word)
            | Q(serial_number__icontains=word)
            | Q(holder_name__icontains=word)
        )

    def get_queryset(self) -> Any:
        return self.narrowed().only(*self.shown, "place__room", "place__shelf")


RAW = {
    "horns": "SELECT h.number, h.build, h.stands_in, h.holder_name, h.due_on, p.room, p.shelf, h.grade, h.checked_on"
    " FROM {Horn} h LEFT JOIN {Place} p ON p.id = h.place_id WHERE h.school_id = %s"
    " ORDER BY h.number_stem, h.number_tail LIMIT 25",
    "loans": 'SELECT h.number, h.build, p.name, p."group", l.issued_on, l.due_on FROM {Loan} l JOIN {Horn} h'
    " ON h.id = l.horn_id JOIN {Pupil} p ON p.id = l.pupil_id WHERE l.school_id = %s AND l.returned_on IS NULL"
    " ORDER BY l.due_on LIMIT 25",
    "pupils": 'SELECT name, year, "group", pupil_id FROM {Pupil} WHERE school_id = %s ORDER BY name LIMIT 25',
}


def raw(request: Any, which: str) -> HttpResponse:
    tables = {model.__name__: model._meta.db_table for model in (Horn, Place, Loan, Pupil)}
    with connection.cursor() as cursor:
        cursor.execute(RAW[which].format(**tables), [request.seat.school.pk])
        rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in cursor)
    return HttpResponse(f"<!doctype html><title>{which}</title><h1>{which}</h1><table>{rows}</table>")
