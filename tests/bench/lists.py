"""Times the lists against other pages over the same rows, in the same run.

The ordinary page is what a Django developer writes first: a ListView with `icontains` over the columns people search
by, joins for the rest, an exact count, and the library's own pages. The careful one reads the kept columns, takes only
what it shows and joins no loans. The raw one is one statement and plain strings, no count, no way to another page. All
are asked through the whole site, sign-in and doors included, in turns. Seconds are those of this process's processor,
without a database server's own; only the ratios mean anything.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection, transaction
from django.db.models import Prefetch, Q
from django.http import HttpResponse
from django.template import engines
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import include, path, reverse
from django.utils.html import escape
from django.views.generic import ListView

from fleet.ground.access import DOORS, Role
from fleet.lending.models import Agreement, Loan
from fleet.people.models import Guardian, Post, Pupil, School, User
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import kinds
from fleet.workshop.models import ConditionCheck
from tests.bench.own_database import own_database, without_manifest

NOW = datetime(2026, 9, 14, 10, 30, tzinfo=UTC)
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


class Peer(ListView):
    """An ordinary list page: right, readable, and without anything done for speed but the usual joins."""

    paginate_by = 25
    template = None
    sorts = {"number": "number", "checked": "checked_on", "due": "loans__due_on"}

    def get_queryset(self) -> Any:
        school = self.request.seat.school  # type: ignore[attr-defined]
        horns = Horn.objects.filter(school=school).select_related("place")
        for word in self.request.GET.get("q", "").split():
            horns = horns.filter(
                Q(number__icontains=word)
                | Q(maker__icontains=word)
                | Q(model__icontains=word)
                | Q(serial_number__icontains=word)
                | Q(build__icontains=word)
                | Q(loans__pupil__name__icontains=word, loans__returned_on=None)
            )
        if build := self.request.GET.get("build"):
            horns = horns.filter(build=build)
        out = Loan.objects.filter(returned_on=None).select_related("pupil")
        order = self.sorts[self.request.GET.get("sort", "number")]
        return horns.distinct().prefetch_related(Prefetch("loans", out, to_attr="out")).order_by(order, "pk")

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> HttpResponse:
        if Peer.template is None:
            Peer.template = engines["django"].from_string(PEER_TEMPLATE)  # type: ignore[assignment]
        return HttpResponse(Peer.template.render(context, self.request))  # type: ignore[attr-defined]


class Careful(Peer):
    """The same page by somebody who measures: kept columns, no join to loans, nothing fetched that is not shown."""

    sorts = {"number": "number_stem number_tail", "checked": "checked_on", "due": "due_on"}
    shown = ("number", "build", "stands_in", "where", "grade", "checked_on", "holder_name", "due_on")

    def get_queryset(self) -> Any:
        horns = Horn.objects.filter(school=self.request.seat.school).select_related("place")  # type: ignore[attr-defined]
        for word in self.request.GET.get("q", "").split():
            horns = horns.filter(
                Q(number__icontains=word)
                | Q(maker__icontains=word)
                | Q(serial_number__icontains=word)
                | Q(holder_name__icontains=word)
            )
        if build := self.request.GET.get("build"):
            horns = horns.filter(build=build)
        order = self.sorts[self.request.GET.get("sort", "number")]
        return horns.only(*self.shown, "place__room", "place__shelf").order_by(*order.split(), "pk")


RAW = {
    "horns": "SELECT h.number, h.build, h.stands_in, h.holder_name, h.due_on, p.room, p.shelf, h.grade, h.checked_on"
    " FROM {Horn} h LEFT JOIN {Place} p ON p.id = h.place_id WHERE h.school_id = %s"
    " ORDER BY h.number_stem, h.number_tail LIMIT 25",
    "loans": 'SELECT h.number, h.build, p.name, p."group", l.issued_on, l.due_on FROM {Loan} l JOIN {Horn} h'
    " ON h.id = l.horn_id JOIN {Pupil} p ON p.id = l.pupil_id WHERE h.school_id = %s AND l.returned_on IS NULL"
    " ORDER BY l.due_on LIMIT 25",
    "pupils": 'SELECT name, year, "group", pupil_id FROM {Pupil} WHERE school_id = %s ORDER BY name LIMIT 25',
}


def raw(request: Any, which: str) -> HttpResponse:
    tables = {model.__name__: model._meta.db_table for model in (Horn, Place, Loan, Pupil)}
    with connection.cursor() as cursor:
        cursor.execute(RAW[which].format(**tables), [request.seat.school.pk])
        rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in cursor)
    return HttpResponse(f"<!doctype html><title>{which}</title><h1>{which}</h1><table>{rows}</table>")


_peer_pages = (
    [
        path("peer/", Peer.as_view(), name="horns"),
        path("careful/", Careful.as_view(), name="careful"),
        path("raw/<slug:which>/", raw, name="raw"),
    ],
    "peer",
)
urlpatterns = [path("s/<slug:school>/", include(_peer_pages)), path("", include("fleet.urls"))]

QUESTIONS = {
    "first page": "",
    "sorted by last check": "sort=checked",
    "sorted by due date": "sort=due",
    "page in the middle": "page={middle}",
    "page near the end": "page={last}",
    "one kind of horn": "build=double-full",
    "search a number": "q=00777",
    "search a rare maker": "q=quillfeather",
    "search a common maker": "q=workshop",
    "search a pupil": "q=pupil+0123",
    "search what is not there": "q=zzyzx",
}


# How many times as long as another page a first page may take: (ours, the other, how many times) by engine.
RAW_TIMES = {"horns": 3.5, "loans": 4, "pupils": 4}
TARGETS = [
    ("horns/", "careful/", {"sqlite": 0.35, "postgresql": 0.08}),
    *((f"{name}/", f"raw/{name}/", dict.fromkeys(("sqlite", "postgresql"), most)) for name, most in RAW_TIMES.items()),
]
# Seconds until a file of the list begins, and for each of its rows.
FIRST_BYTE, A_ROW = 0.2, 10 / 100_000
PEERS = ("peer:horns", "peer:careful", "peer:raw")


class Command(BaseCommand):
    help = "Time the lists against other pages, over invented rows in a database of its own. Exits 1 when one is slow."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=20_000, help="how many horns (100 to 1,000,000)")
        parser.add_argument("--rounds", type=int, default=11, help="how often each page is asked (3 to 1,000)")

    def handle(self, *args: Any, horns: int, rounds: int, **options: Any) -> None:
        horns, rounds = min(max(horns, 100), 1_000_000), min(max(rounds, 3), 1_000)
        with own_database():
            try:
                with without_manifest(ROOT_URLCONF=__name__):
                    DOORS.update(dict.fromkeys(PEERS, DOORS["register:horns"]))
                    good = self.compare(horns, rounds)
            finally:
                for name in PEERS:
                    DOORS.pop(name, None)
        sys.exit(int(not good))

    def compare(self, horns: int, rounds: int) -> bool:
        began = time.perf_counter()
        with transaction.atomic():
            head = furnish(horns)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE")
        self.stdout.write(
            f"{horns} horns on {connection.vendor}, made in {time.perf_counter() - began:.0f} s; {rounds} rounds.\n\n"
        )
        client = Client(SERVER_NAME=settings.ALLOWED_HOSTS[0])
        client.force_login(head)

        def ask(page: str, query: str = "") -> float:
            address = f"/s/bench/{page}?{query}"
            started = time.process_time()
            answer = client.get(address, secure=settings.SITE_IS_HTTPS)
            took = time.process_time() - started
            if answer.status_code != 200:
                raise RuntimeError(f"{address} answered {answer.status_code}.")
            return took

        def in_turns(pages: tuple[str, ...], query: str = "") -> list[float]:
            """Milliseconds of each."""
            times: dict[str, list[float]] = {page: [] for page in pages}
            for turn in range(-1, rounds):
                for page in pages if turn % 2 else reversed(pages):
                    took = ask(page, query)
                    times[page] += [took] if turn >= 0 else []
            return [statistics.median(times[page]) * 1000 for page in pages]

        def queries(page: str, query: str) -> int:
            with CaptureQueriesContext(connection) as found:
                ask(page, query)
            return len(found)

        self.stdout.write(f"{'':26}{'ours':>9}{'careful':>10}{'ordinary':>10}{'ratios':>14}{'queries':>12}\n")
        for name, question in QUESTIONS.items():
            query = question.format(middle=horns // 50, last=horns // 25)
            ours, careful, ordinary = in_turns(("horns/", "careful/", "peer/"), query)
            counts = f"{queries('horns/', query)} and {queries('peer/', query)}"
            ratios = f"{ours / careful:.2f}, {ours / ordinary:.2f}"
            self.stdout.write(f"{name:26}{ours:6.1f} ms{careful:7.1f} ms{ordinary:7.1f} ms{ratios:>14}{counts:>12}\n")
        good = True
        for page, other, by_engine in TARGETS:
            ours, theirs = in_turns((page, other))
            most = by_engine[connection.vendor]
            good &= (reached := ours <= most * theirs)
            self.stdout.write(
                f"{'Reached' if reached else 'MISSED'}: {page} {ours:.1f} ms, {ours / theirs:.2f} times {other} "
                f"({theirs:.1f} ms), wanted {most}.\n"
            )
        began, sent, first = time.process_time(), 0, 0.0
        for piece in client.get(
            reverse("exchange:horns-out", args=["bench"]), {"as": "xlsx"}, secure=settings.SITE_IS_HTTPS
        ):
            first = first or time.process_time() - began
            sent += len(piece)
        took = time.process_time() - began
        reached = first < FIRST_BYTE and took < max(horns * A_ROW, 1)
        self.stdout.write(
            f"{'Reached' if reached else 'MISSED'}: all as .xlsx {took:.1f} s, {sent / 1e6:.1f} MB, first after "
            f"{first * 1e3:.0f} ms, wanted {max(horns * A_ROW, 1):.0f} s and {FIRST_BYTE * 1e3:.0f} ms.\n"
        )
        return good and reached


def furnish(horns: int) -> User:
    """A school with so many horns, three in ten of them out on loan, and its department head."""
    chance = random.Random(1)
    school = School.objects.create(slug="bench", name="Bench School")
    head = User.objects.create_user("head@bench.example", name="Head")
    Post.objects.create(user=head, school=school, role=Role.HEAD.value)
    places = Place.objects.bulk_create([Place(school=school, room=f"Room {n}") for n in range(30)])
    codes = [code for _, choices in kinds() for code, _ in choices][:12]
    makers = ["Workshop of the Town", "Brothers of the Valley", "Bell and Branch", "Hand and Hammer"]
    pupils = Pupil.objects.bulk_create(
        Pupil(school=school, name=f"Pupil {n:06d} {chance.choice('ABCDEFGH')}", year="5")
        for n in range(horns * 3 // 10)
    )
    made, out = list[Horn](), list[Horn]()
    for n in range(horns):
        pupil = pupils[n] if n < len(pupils) else None
        made.append(
            Horn(
                school=school,
                number=f"HN-{n:06d}",
                number_stem="hn-",
                number_tail=n,
                build=chance.choice(codes),
                stands_in=chance.choice(["F", "Bb"]),
                maker="Quillfeather" if n % 5000 == 7 else chance.choice(makers),
                serial_number=str(chance.randrange(10**7)),
                place=chance.choice(places),
                grade=chance.choice([1, 1, 2, 2, 3, 4]),
                checked_on=date(2026, 1, 1) + timedelta(days=chance.randrange(250)),
                holder_name=pupil.name if pupil else "",
                due_on=date(2027, 6, 1) + timedelta(days=n % 60) if pupil else None,
            )
        )
        if len(made) == 20_000 or n == horns - 1:  # a million at once would fill the memory
            out += [one for one in Horn.objects.bulk_create(made, batch_size=2000) if one.due_on]
            made = []
    guardians = Guardian.objects.bulk_create(
        [Guardian(school=school, name=f"Guardian {n:06d}", telephone="1") for n in range(len(pupils))], 2000
    )
    agreement = Agreement.objects.create(school=school, version=1, words="x", made_at=NOW)
    checks = ConditionCheck.objects.bulk_create(
        [ConditionCheck(horn=horn, at=NOW, by=head, grade=1, finish_grade=1) for horn in out], batch_size=2000
    )
    Loan.objects.bulk_create(
        [
            Loan(
                horn=horn,
                pupil=pupil,
                guardian=guardian,
                agreement=agreement,
                signed_on=NOW.date(),
                issued_on=NOW.date(),
                issued_by=head,
                due_on=horn.due_on or NOW.date(),
                check_at_issue=check,
            )
            for horn, pupil, guardian, check in zip(out, pupils, guardians, checks, strict=True)
        ],
        batch_size=2000,
    )
    return head
