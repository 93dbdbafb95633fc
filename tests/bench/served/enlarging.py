"""A school as large as wanted: some horns by `furnish`, the others copies of them in plain SQL.

To make a million rows one model at a time, and to keep all indexes and the search while they come, took over half an
hour. Copies have numbers, codes and pupils of their own, and the kinds, makers and days of the first.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction
from django.db.models import CharField, F, Model
from django.db.models.functions import Cast

from fleet.exchange.actions.measuring import measure_tables
from fleet.lending.models import Loan
from fleet.people.models import Guardian, Pupil, User
from fleet.people.models.trigrams import keep_trigrams
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.searching import TABLE
from fleet.workshop.models import ConditionCheck
from tests.bench.lists import furnish

# So many are furnished; a larger school is so many of them again and again.
BLOCK = 10_000
# Of the rare maker there are so many horns in any school.
RARE = 40
# The number a row of the first block bears in its texts, and the one of its copy.
OLD = "substr(1000000 + {n}, 2)"
NEW = "substr(1000000 + {n} + copy * {block}, 2)"


def enlarged(horns: int) -> User:
    """A school with so many horns on SQLite, of more than a block whole blocks: half of them teach, three in ten are
    out, in 40 classes. Gives its head."""
    block = min(horns, BLOCK)
    with in_one_go(), transaction.atomic():
        head = furnish(block)
        _made_by("Bell and Branch", Horn.objects.filter(maker="Quillfeather"))
        Horn.objects.annotate(odd=F("pk") % 2).filter(odd=1).update(teaches=True)
        Horn.objects.exclude(due_on=None).update(holder_group=Cast(F("pk") % 40, CharField()))
        with without_indexes():
            _copy(horns // block - 1, block)
        _made_by("Quillfeather", Horn.objects.order_by("-number_tail")[:RARE])
    measure_tables()
    return head


def _made_by(maker: str, horns: HornQuerySet) -> None:
    for horn in horns.select_related("place"):
        horn.maker = maker
        horn.save(update_fields=["maker"])


def _copy(times: int, block: int) -> None:
    out = Pupil.objects.count()

    def told(n: str, *columns: str) -> dict[str, str]:
        """These columns with the copy's number where the row's stood."""
        old, new = OLD.format(n=n), NEW.format(n=n, block=block)
        return {column: f"replace({column}, {old}, {new})" for column in columns}

    # Pupils, guardians, checks and loans are of the first horns, whose numbers are their keys less one.
    of_person = told("id - 1", "search", "sorted_by", "name")
    of_horn = told("number_tail", "number", "search", "holder_name")
    tail = f"(number_tail + copy * {block})"
    for before in (" ", " hn", " hn-"):
        tails = f"'{before}' || number_tail || ' ', '{before}' || {tail} || ' '"
        of_horn["search"] = f"replace({of_horn['search']}, {tails})"
    of_horn |= {"number_tail": tail, "label_code": "label_code || copy"}
    of_loan = _on({"horn_id": block, "pupil_id": out, "guardian_id": out, "check_at_issue_id": out})
    _rows(times, Pupil, of_person, out)
    _rows(times, Guardian, of_person, out)
    _rows(times, Horn, of_horn, block)
    _rows(times, ConditionCheck, _on({"horn_id": block}), out)
    _rows(times, Loan, of_loan | {"sheet_code": "sheet_code || copy"}, out)


def _on(steps: dict[str, int]) -> dict[str, str]:
    """Keys of what was copied beside: so far on."""
    return {column: f"{column} + copy * {step}" for column, step in steps.items()}


def _rows(times: int, model: type[Model], told: dict[str, str], step: int) -> None:
    """The rows of a table so many times again, with these expressions for columns that differ."""
    told = told | _on({"id": step})
    columns = [str(field.column) for field in model._meta.concrete_fields if not field.generated]
    names = ", ".join(f'"{column}"' for column in columns)
    said = ", ".join(told.get(column, f'"{column}"') for column in columns)
    copies = "WITH RECURSIVE copies(copy) AS (SELECT 1 UNION ALL SELECT copy + 1 FROM copies WHERE copy < %s)"
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if times:
            statement = f"INSERT INTO {table} ({names}) {copies} SELECT {said} FROM copies CROSS JOIN {table}"  # noqa: S608
            cursor.execute(statement, [times])


@contextmanager
def in_one_go() -> Iterator[None]:
    """Rows come without being written down twice: what is cut off here is thrown away."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode = MEMORY")
        cursor.execute("PRAGMA synchronous = OFF")
        yield
        cursor.execute("PRAGMA synchronous = NORMAL")
        cursor.execute("PRAGMA journal_mode = WAL")


@contextmanager
def without_indexes() -> Iterator[None]:
    """Rows come without indexes and without the search, which are made once they all are there."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA cache_size = -400000")
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL")
        indexes: list[Any] = cursor.fetchall()
        for name, _ in indexes:
            cursor.execute(f'DROP INDEX "{name}"')
        cursor.execute(f"SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE '{TABLE}%'")  # noqa: S608
        for (name,) in cursor.fetchall():
            cursor.execute(f'DROP TRIGGER "{name}"')
        yield
        for _, sql in indexes:
            cursor.execute(sql)
    keep_trigrams(using="default")
