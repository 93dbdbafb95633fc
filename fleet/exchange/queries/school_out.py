"""A whole school as one file, for a handover: a table a CSV, its pictures, and the loan sheets as PDFs."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from array import array
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from itertools import count, groupby, islice
from operator import attrgetter
from pathlib import Path
from typing import IO, Any, TextIO, cast

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import models
from django.utils import timezone

from fleet.exchange.queries.one_moment import one_moment
from fleet.exchange.queries.packing import part, put
from fleet.exchange.queries.whole_school import ACCOUNT, FORMAT, KEY, NOTHING, Table, references, tables, written
from fleet.lending.models import Loan
from fleet.people.models import School, User
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.loan_facts import ALSO, WITH, of_loan

READ_ME = """\
{school}, as it stood on {day}.

tables/   one CSV file a table (RFC 4180, UTF-8). `key` numbers the rows; other tables name rows by these numbers.
          A cell that a spreadsheet would take for a formula has an apostrophe before it. \\N stands for nothing.
files/    photographs, signed sheets and agreements, as the tables name them.
prints/   the loan sheets by the year of issue, to read and to print, each file with its contents by number and name.
          They are drawn from the tables and are not read back.

Passwords and sign-in codes are not in here: people sign in with a code sent by e-mail.
This file holds personal data of pupils and their guardians. Keep it as the school's rules ask, and no longer.

Back in, on another site:   python manage.py import_school FILE
"""

# Rows held at a time, a loan with all that stands on its sheet.
CHUNK = 100
# In one PDF: together they carry their letters and what is the same on all of them once, and few are held at a time.
SHEETS = 500


def export_school(
    *, school: School, to: Path, at: datetime, say: Callable[[str], None] = lambda words: None
) -> dict[str, int]:
    """Writes the school's file. Returns the number of rows a table. A file half written never stands under the name.

    The memory held hardly grows with the school: its rows and sheets pass through. The same school at the same moment
    gives the same bytes, whichever database holds it.
    """
    draft = to.with_name(f".{to.name}.part")
    try:
        with timezone.override(school.zone), one_moment(), zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED) as archive:
            counts = _fill(archive, school, at, say)
        draft.replace(to)
    finally:
        draft.unlink(missing_ok=True)
    return counts


def _fill(archive: zipfile.ZipFile, school: School, at: datetime, say: Callable[[str], None]) -> dict[str, int]:
    people = accounts_of(school)
    keys: dict[type[models.Model], Any] = {User: {pk: n for n, pk in enumerate(people, start=1)}}
    for table in tables():
        if table.model in _referred_to():
            keys[table.model] = _Keys(table.rows_of(school).values_list("pk", flat=True).iterator())
    sums: dict[str, str] = {}
    counts = {"people-user": _accounts_out(archive, people, sums)}
    pictures: list[str] = []
    for table in tables():
        counts[table.name] = _table_out(archive, table, school, keys, pictures, sums)
        say(f"{table.name}: {counts[table.name]}")
    for name in pictures:
        _file_out(archive, name, sums)
    say(f"pictures: {len(pictures)}")
    _sheets_out(archive, school, say)
    archive.writestr(part("READ ME.txt"), READ_ME.format(school=school, day=f"{at:%Y-%m-%d}"))
    facts = {"format": FORMAT, "school": school.slug, "at": at.isoformat(), "rows": counts, "sha256": sums}
    archive.writestr(part("contents.json"), json.dumps(facts, indent=1, sort_keys=True))
    return counts


def _referred_to() -> set[Any]:
    return {references(field) for table in tables() for field in table.columns}


class _Keys:
    """Which row in turn a key is, the first being 1; eight bytes a row. KeyError for a key of another school's row."""

    def __init__(self, in_turn: Iterable[int]) -> None:
        self.in_turn = array("q", in_turn)

    def __contains__(self, key: int) -> bool:
        place = bisect_left(self.in_turn, key)
        return self.in_turn[place : place + 1] == array("q", [key])

    def __getitem__(self, key: int) -> int:
        place = bisect_left(self.in_turn, key)
        if self.in_turn[place : place + 1] != array("q", [key]):
            raise KeyError(key)
        return place + 1


def accounts_of(school: School) -> list[int]:
    """Every account the school's rows name: staff, guardians, whoever recorded something."""
    found: set[int] = set()
    for table in tables():
        for field in table.columns:
            if references(field) is User:
                named = table.rows_of(school).exclude(**{field.name: None}).order_by()
                found.update(named.values_list(field.attname, flat=True).distinct())
    # By address, so that the order depends neither on the site nor on how its database sorts.
    return [one.pk for one in sorted(_users(found), key=attrgetter("email"))]


def _users(keys: Iterable[int]) -> Iterator[User]:
    """The accounts with these keys, in their order."""
    left = iter(keys)
    while some := list(islice(left, CHUNK)):
        found = User.objects.in_bulk(some)
        yield from (found[key] for key in some)


class _Csv:
    """A CSV file inside the archive, written row by row, and its sum."""

    def __init__(self, archive: zipfile.ZipFile, name: str, sums: dict[str, str]) -> None:
        self.archive, self.name, self.sums = archive, f"tables/{name}.csv", sums

    def __enter__(self) -> Any:
        self.sum = hashlib.sha256()
        self.part = self.archive.open(part(self.name), "w", force_zip64=True)
        self.text: TextIO = io.TextIOWrapper(
            cast(Any, _Summed(self.part, self.sum)), "utf-8", newline="", write_through=True
        )
        return csv.writer(self.text)

    def __exit__(self, *trouble: object) -> None:
        self.text.flush()
        self.part.close()
        self.sums[self.name] = self.sum.hexdigest()


class _Summed(io.RawIOBase):
    def __init__(self, part: Any, total: Any) -> None:
        self.part, self.total = part, total

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self.total.update(data)
        return int(self.part.write(data))


def _accounts_out(archive: zipfile.ZipFile, people: Iterable[int], sums: dict[str, str]) -> int:
    fields = [User._meta.get_field(name) for name in ACCOUNT]
    with _Csv(archive, "people-user", sums) as out:
        out.writerow([KEY, *ACCOUNT])
        n = 0
        for n, user in enumerate(_users(people), start=1):
            out.writerow([n, *(written(field, user) for field in fields)])  # type: ignore[arg-type]
    return n


def _table_out(
    archive: zipfile.ZipFile, table: Table, school: School, keys: Any, pictures: list[str], sums: dict[str, str]
) -> int:
    with _Csv(archive, table.name, sums) as out:
        out.writerow([KEY, *(field.name for field in table.columns)])
        n = 0
        for n, row in enumerate(table.rows_of(school).iterator(chunk_size=CHUNK), start=1):
            cells = []
            for field in table.columns:
                other = references(field)
                value = field.value_from_object(row)
                if other is None or value is None:
                    cells.append(written(field, row))
                elif not getattr(field, "db_constraint", True) and value not in keys[other]:
                    # What an act was about may be gone, and the act stays.
                    cells.append(NOTHING)
                else:
                    # Raises KeyError where a row names one of another school, which no table may.
                    cells.append(str(keys[other][value]))
                if isinstance(field, models.FileField) and value:
                    pictures.append(str(value))
            out.writerow([n, *cells])
    return n


def _file_out(archive: zipfile.ZipFile, name: str, sums: dict[str, str]) -> None:
    """A picture as it is; it is packed already. One whose file is gone is left out, as on the pages."""
    try:
        opened = default_storage.open(name, "rb")
    except FileNotFoundError:
        return
    with opened:
        sums[f"files/{name}"] = put(archive, f"files/{name}", cast(IO[bytes], opened.file))


def _sheets_out(archive: zipfile.ZipFile, school: School, say: Callable[[str], None]) -> None:
    loans = Loan.objects.at(school).order_by("issued_on", "pk")
    drawn, total = 0, loans.count()
    say(f"loan sheets: {total}")
    fetched = loans.select_related(*WITH).prefetch_related(*ALSO).iterator(chunk_size=CHUNK)
    for year, issued in groupby(fetched, key=lambda loan: loan.issued_on.year):
        for n in count(1):
            some = [of_loan(loan) for loan in islice(issued, SHEETS)]
            if not some:
                break
            pdf = loan_sheets_drawn(some, school=school, paper=school.paper, origin=settings.SITE_ORIGIN)
            # Packed already.
            archive.writestr(part(f"prints/loan-sheets-{year}-{n}.pdf", packed=False), pdf)
            drawn += len(some)
            if total > SHEETS:
                say(f"loan sheets: {drawn} of {total} drawn")
