"""Times the lists against other pages over the same rows, in the same run.

The peers are three lists of Django's admin (`tests/bench/peers/admin.py`), an ordinary one, a careful one, and one that
has our indexes and counts no further than we do; two list views in our own frame, which grow cheaper with it
(`views.py` there); and one statement with plain strings, no count, no way to another page. All are asked through the
whole site, sign-in included, in turns. Seconds are those of processors, a database server's too; only the ratios mean
anything.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urljoin

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import include, path, reverse

from fleet.ground.access import DOORS, Role
from fleet.lending.models import Agreement, Loan
from fleet.people.models import Guardian, Post, Pupil, School, User
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import kinds
from fleet.workshop.models import ConditionCheck
from tests.bench.clock import alone, spent
from tests.bench.own_database import own_database, without_manifest
from tests.bench.pace import pace
from tests.bench.peers import admin
from tests.bench.peers.views import CarefulView, OrdinaryView, raw

NOW = datetime(2026, 9, 14, 10, 30, tzinfo=UTC)
_peer_pages = (
    [
        path("ordinary/", OrdinaryView.as_view(), name="ordinary"),
        path("careful/", CarefulView.as_view(), name="careful"),
        path("raw/<slug:which>/", raw, name="raw"),
    ],
    "peer",
)
urlpatterns = [
    path("s/<slug:school>/", include(_peer_pages)),
    *(path(f"admin/{name}/", site.urls) for name, site in admin.SITES.items()),
    path("", include("fleet.urls")),
]

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


# What each first page is asked beside, in words and as an address below the school's, and how many times as long it may
# take, by engine; None for peers that are told without an aim.
ADMIN = "/admin/{}/register/horn/"
ANY = ("sqlite", "postgresql")
BESIDE: dict[str, list[tuple[str, str, dict[str, float] | None]]] = {
    "horns/": [
        ("careful admin", ADMIN.format("careful"), {"sqlite": 0.35, "postgresql": 0.08}),
        ("ordinary admin", ADMIN.format("ordinary"), None),
        ("admin with our indexes", ADMIN.format("indexed"), None),
        ("careful view", "careful/", None),
        ("ordinary view", "ordinary/", None),
        ("raw", "raw/horns/", dict.fromkeys(ANY, 3.5)),
    ],
    "loans/": [("raw", "raw/loans/", dict.fromkeys(ANY, 4))],
    "pupils/": [("raw", "raw/pupils/", dict.fromkeys(ANY, 4))],
}
# Seconds until a file of the list begins, and for each of its rows.
FIRST_BYTE, A_ROW = 0.2, 10 / 100_000
PEERS = {
    **dict.fromkeys(("peer:ordinary", "peer:careful", "peer:raw"), DOORS["register:horns"]),
    **{f"{site}:register_horn_changelist": admin.ANYBODY_SIGNED_IN for site in admin.SITES},
}


class Command(BaseCommand):
    help = "Time the lists against other pages, over invented rows in a database of its own. Exits 1 when one is slow."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=20_000, help="how many horns (100 to 1,000,000)")
        parser.add_argument("--rounds", type=int, default=11, help="how often each page is asked (3 to 1,000)")

    def handle(self, *args: Any, horns: int, rounds: int, **options: Any) -> None:
        horns, rounds = min(max(horns, 100), 1_000_000), min(max(rounds, 3), 1_000)
        with own_database():
            try:
                with without_manifest(ROOT_URLCONF=__name__, INSTALLED_APPS=[*settings.INSTALLED_APPS, *admin.APPS]):
                    DOORS.update(PEERS)
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
            f"{horns} horns on {connection.vendor}, made in {time.perf_counter() - began:.0f} s; {rounds} rounds; "
            f"milliseconds of this process's processor, {alone()}.\n\n"
        )
        client, lots = Client(SERVER_NAME=settings.ALLOWED_HOSTS[0]), random.Random(1)
        client.force_login(head)

        def ask(page: str, query: str = "") -> float:
            address = f"{urljoin('/s/bench/', page)}?{query}"
            started = spent()
            answer = client.get(address, secure=settings.SITE_IS_HTTPS)
            took = spent() - started
            if answer.status_code != 200:
                raise RuntimeError(f"{address} answered {answer.status_code}.")
            return took

        def in_turns(pages: tuple[str, ...], query: str = "") -> list[float]:
            """Milliseconds of each. In an order drawn by lot for each round: in one that is turned about, the last is
            asked twice in a row, and finds the processor full of what it needs."""
            times: dict[str, list[float]] = {page: [] for page in pages}
            for turn in range(-1, rounds):
                for page in lots.sample(pages, len(pages)):
                    took = ask(page, query)
                    times[page] += [took] if turn >= 0 else []
            return [statistics.median(times[page]) * 1000 for page in pages]

        def queries(page: str, query: str) -> int:
            with CaptureQueriesContext(connection) as found:
                ask(page, query)
            return len(found)

        self.stdout.write(f"{'':26}{'ours':>9}{'careful':>10}{'ordinary':>10}{'ratios':>14}{'queries':>12} (views)\n")
        for name, question in QUESTIONS.items():
            query = question.format(middle=horns // 50, last=horns // 25)
            ours, careful, ordinary = in_turns(("horns/", "careful/", "ordinary/"), query)
            counts = f"{queries('horns/', query)} and {queries('ordinary/', query)}"
            ratios = f"{ours / careful:.2f}, {ours / ordinary:.2f}"
            self.stdout.write(f"{name:26}{ours:6.1f} ms{careful:7.1f} ms{ordinary:7.1f} ms{ratios:>14}{counts:>12}\n")
        good = True
        for page, beside in BESIDE.items():
            ours, *others = in_turns((page, *(address for _, address, _ in beside)))
            for theirs, (name, _, aims) in zip(others, beside, strict=True):
                most = aims[connection.vendor] if aims else None
                good &= (reached := most is None or ours <= most * theirs)
                self.stdout.write(
                    f"{'MISSED' if not reached else 'Reached' if most else 'Beside'}: {page} {ours:.1f} ms, "
                    f"{ours / theirs:.2f} times {name} ({theirs:.1f} ms){f', wanted {most}' if most else ''}.\n"
                )
        began, sent, first = spent(), 0, 0.0
        for piece in client.get(
            reverse("exchange:horns-out", args=["bench"]), {"as": "xlsx"}, secure=settings.SITE_IS_HTTPS
        ):
            first = first or spent() - began
            sent += len(piece)
        took = spent() - began
        slower = pace()
        reached = first < FIRST_BYTE * slower and took < max(horns * A_ROW, 1) * slower
        self.stdout.write(
            f"{'Reached' if reached else 'MISSED'}: all as .xlsx {took:.1f} s, {sent / 1e6:.1f} MB, first after "
            f"{first * 1e3:.0f} ms; at the pace of the aims {took / slower:.1f} s and {first / slower * 1e3:.0f} ms, "
            f"wanted {max(horns * A_ROW, 1):.0f} s and {FIRST_BYTE * 1e3:.0f} ms.\n"
        )
        return good and reached


def furnish(horns: int) -> User:
    """A school with so many horns, three in ten of them out on loan, and its department head."""
    chance = random.Random(1)
    school = School.objects.create(slug="bench", name="Bench School")
    head = User.objects.create_user("head@bench.example", name="Head", is_superuser=True)
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
                school=school,
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
