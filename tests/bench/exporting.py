"""Measures a whole school going out as one file beside plain `dumpdata` of the same database, in the same run.

Each side is a process of its own, `manage.py export_school` and `manage.py dumpdata`, over an invented school in a
database of its own. The peer does less: it writes rows as JSON, packed, with neither loan sheets nor pictures. It is
there to show what reading the rows alone costs. Seconds are those of the processor, so that a machine that is busy
elsewhere changes little; memory is what the system says the process held at most.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from fleet.ground.access import Role
from fleet.lending.models import Agreement, Loan, LoanAccessory
from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.people.models import Guardian, Post, Pupil, School, User
from fleet.register.models import Horn
from fleet.register.models.kinds import kinds
from fleet.workshop.models import ConditionCheck, Finding
from tests.bench.own_database import own_database

NOW = datetime(2026, 9, 14, 10, 30, tzinfo=UTC)
MANAGE = Path(settings.BASE_DIR) / "manage.py"
# What the process may hold at most beyond what it holds for a school of a tenth, in MB: remembered words and keys.
MORE = 32


class Command(BaseCommand):
    help = "Compare a whole school going out with dumpdata. Exits 1 when memory grows with the school."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=5_000, help="how many horns (100 to 100,000)")
        parser.add_argument("--loans", type=int, default=17_000, help="how many loans (100 to 1,000,000)")

    def handle(self, *args: Any, horns: int, loans: int, **options: Any) -> None:
        horns, loans = min(max(horns, 100), 100_000), min(max(loans, 100), 1_000_000)
        with own_database() as folder:
            held = [self.compare(folder, n, h, count) for n, (h, count) in enumerate(_sizes(horns, loans))]
        more = held[-1] - held[0]
        self.stdout.write(f"{'Reached' if more <= MORE else 'MISSED'}: {more:.0f} MB more held, wanted {MORE}.\n")
        if more > MORE:
            sys.exit(1)

    def compare(self, folder: Path, n: int, horns: int, loans: int) -> float:
        """Gives the MB that the export held at most."""
        connection.close()
        # In a process of its own: what it held the system would count to those started after it.
        maker = multiprocessing.get_context("fork").Process(target=_furnished, args=(f"bench-{n}", horns, loans))
        maker.start()
        maker.join()
        if maker.exitcode:
            raise CommandError("The school could not be made.")
        self.stdout.write(f"{horns} horns and {loans} loans on {connection.vendor}:\n")
        held = 0.0
        for name, file, words in (
            ("dumpdata", folder / f"{n}.json.gz", ["dumpdata", "--all", "--output"]),
            ("export_school", folder / f"{n}.zip", ["export_school", f"bench-{n}"]),
        ):
            took, held = _used([*words, str(file)], folder)
            size = file.stat().st_size / 1e6
            self.stdout.write(f"  {name:14}{took:8.1f} s{held:8.0f} MB held{size:8.1f} MB written\n")
        return held


def _sizes(horns: int, loans: int) -> Iterator[tuple[int, int]]:
    yield horns // 10, loans // 10
    yield horns, loans


def _used(words: list[str], folder: Path) -> tuple[float, float]:
    """Runs manage.py on the same database. Gives its seconds of processor time and the MB it held at most."""
    said = {key: quote(str(value or ""), safe="") for key, value in connection.settings_dict.items() if key.isupper()}
    who = f"{said['USER']}:{said['PASSWORD']}@" if said["USER"] else ""
    address = f"postgres://{who}{said['HOST']}{said['PORT'] and ':'}{said['PORT']}/{said['NAME']}"
    if connection.vendor == "sqlite":
        address = f"sqlite:///{Path(str(connection.settings_dict['NAME'])).as_posix()}"
    given = {**os.environ, "DATABASE_URL": address, "HORN_DATA": str(folder)}
    with subprocess.Popen([sys.executable, str(MANAGE), *words], env=given, stdout=subprocess.DEVNULL) as running:
        _, status, used = os.wait4(running.pid, 0)  # which Windows lacks
        running.returncode = os.waitstatus_to_exitcode(status)
    if running.returncode:
        raise CommandError(f"{words[0]} failed.")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def _furnished(slug: str, horns: int, loans: int) -> None:
    with transaction.atomic():
        furnish(slug, horns, loans, random.Random(1))
    connection.close()


def furnish(slug: str, horns: int, loans: int, chance: random.Random) -> School:
    """A school whose horns went out again and again, with checks, findings and what went along."""
    school = School.objects.create(slug=slug, name="Bench School", contact="the music office")
    head = User.objects.create_user(f"head@{slug}.example", name="Head")
    Post.objects.create(user=head, school=school, role=Role.HEAD.value)
    agreement = Agreement.objects.create(school=school, version=1, words=FIRST_WORDS, made_at=NOW)
    pupils = Pupil.objects.bulk_create(
        (Pupil(school=school, name=f"Pupil Number {n}", year=str(5 + n % 5)) for n in range(loans // 3)), 2000
    )
    guardians = Guardian.objects.bulk_create(
        (Guardian(school=school, name=f"Guardian Number {n}", telephone="1") for n in range(len(pupils))), 2000
    )
    codes = [code for _, choices in kinds() for code, _ in choices][:12]
    made = Horn.objects.bulk_create(
        (
            Horn(
                school=school,
                number=f"HN-{n:06d}",
                build=chance.choice(codes),
                stands_in="F",
                maker=f"Maker {n % 7}",
                serial_number=str(chance.randrange(10**6)),
            )
            for n in range(horns)
        ),
        2000,
    )
    first = NOW - timedelta(days=365 * 12)
    times = [first + timedelta(days=365 * (n // horns)) for n in range(loans)]
    checks = ConditionCheck.objects.bulk_create(
        (
            ConditionCheck(horn=made[n % horns], at=at, by=head, grade=1, finish_grade=2, notes="Plays well.")
            for n, at in enumerate(times)
        ),
        2000,
    )
    Finding.objects.bulk_create(
        (
            Finding(check_made=check, school=school, fault="string-broken", severity="w")
            for check in checks
            if chance.random() < 0.5
        ),
        2000,
    )
    lent = Loan.objects.bulk_create(
        (
            Loan(
                school=school,
                horn=made[n % horns],
                pupil=pupils[n % len(pupils)],
                guardian=guardians[n % len(pupils)],
                agreement=agreement,
                signed_on=at.date(),
                issued_on=at.date(),
                issued_by=head,
                due_on=at.date() + timedelta(days=300),
                check_at_issue=checks[n],
                stands_in="F",
                returned_on=at.date() + timedelta(days=290) if n + horns < loans else None,
                returned_to=head if n + horns < loans else None,
            )
            for n, at in enumerate(times)
        ),
        2000,
    )
    LoanAccessory.objects.bulk_create(
        (LoanAccessory(loan=one, name=name) for one in lent for name in ("case", "mouthpiece", "rotor oil")), 5000
    )
    return school
