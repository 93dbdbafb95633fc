"""A column of days under a heading that says both, due and came back: `Rückgabe`."""

from __future__ import annotations

from datetime import date

import pytest

from fleet.lending.models import Loan
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.exchange.test_running_loans import furnished


@pytest.mark.parametrize(
    ("backs", "verdict"),
    [
        (["31.7.2027", "31.1.2026", "end of school year"], ["new", "new", "new"]),
        (["31.1.2026", "31.1.2026", "31.7.2027"], ["same", "same", "new"]),
        (["", "31.1.2026", "end of school year"], ["new", "same", "refused"]),
    ],
)
def test_a_column_of_days_that_lie_ahead_says_when_horns_are_due_and_not_that_some_came_back(
    desk: Desk, backs, verdict
):
    furnished(desk)
    make.pupil(desk.school, make.guardian(desk.school), name="Cy Orr")
    names = ("Ada Quill", "Ben Low", "Cy Orr")
    rows = [
        ["Nr", "Lent to", "Rückgabe"],
        *([f"H-{n}", *row] for n, row in enumerate(zip(names, backs, strict=True), start=1)),
    ]

    imported = desk.looked_over(as_csv(rows), kind="running")

    assert verdicts(imported) == verdict
    if verdict == ["new"] * 3:
        assert [(row, column, why) for row, column, _, why in wrongs(imported, "noted")] == [
            (2, "Out since", "No day is given. The loan begins today."),
            (3, "Out since", "No day is given. The loan begins on the day it was due."),
            (4, "Due back", "This is no day we can read. Write it like 2026-09-14. The horn is due on 12 July 2027."),
            (4, "Out since", "No day is given. The loan begins today."),
        ]
        desk.write(imported)
        overdue = Loan.objects.at(desk.school).get(horn__number="H-2")
        assert (overdue.issued_on, overdue.due_on) == (date(2026, 1, 31), date(2026, 1, 31))
