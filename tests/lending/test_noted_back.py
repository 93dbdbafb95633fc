"""A horn that is noted as back is waited for by nobody, until its loan ends or the note is taken away."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection

from fleet.exchange.actions.measuring import measure_tables
from fleet.ground.refusal import Refused
from fleet.lending.actions import dates, returning
from fleet.lending.models import Loan
from fleet.lending.queries.told import OWING
from tests import make
from tests.reading import horn_now

pytestmark = pytest.mark.both_engines
DAY = timedelta(days=1)


def note(lending):
    seen = {"came_back": ["case"], "finish_grade": 2, "words": ""}
    return returning.note_return(horn=lending.horn, **seen, by=lending.teacher, at=make.NOW)


def owed(lending, today):
    return [one.code for one in horn_now(lending.horn, today=today).owed]


def test_it_is_neither_overdue_nor_due_soon_nor_recalled_and_is_here(lending):
    loan = lending.issue(due_on=make.TODAY + DAY)
    before, after = make.TODAY, make.TODAY + 2 * DAY
    moved = {"loan": loan, "by": lending.teacher, "at": make.NOW, "reason": "A concert", "due_seen": loan.due_on}
    assert (list(Loan.objects.due_soon(before, 9)), owed(lending, after)) == ([loan], ["overdue"])

    job = make.job(lending.horn, lending.teacher, bring_on=make.TODAY)
    assert job.waits_for_family

    note(lending)

    assert not type(job).objects.select_related("horn").get(pk=job.pk).waits_for_family
    assert (list(Loan.objects.due_soon(before, 9)), list(Loan.objects.overdue(after))) == ([], [])
    assert owed(lending, after) == ["noted", "job"]
    horn = type(lending.horn).objects.get()
    assert (horn.whereabouts.state, horn.whereabouts.is_here, horn.due(after)) == ("noted as back", True, None)
    assert [one.code for one in horn.kept_back] == ["out"]
    with pytest.raises(Refused, match="noted as back, so nobody need bring it"):
        dates.recall(due_on=make.TODAY, **moved)

    lending.give_back(loan)

    horn.refresh_from_db()
    assert (horn.noted_back, horn.whereabouts.state) == (False, "in its place")


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
def test_what_is_noted_is_not_looked_for_among_the_notes_of_all_loans(lending):
    for _ in range(2):
        ended = make.loan(make.horn(lending.school), lending.pupil, lending.teacher, returned_on=make.TODAY)
        make.return_note(ended, lending.teacher)
    lending.issue()
    standing = note(lending)
    measure_tables()

    noted = next(one for one in OWING if one.code == "noted").rows(lending.school, make.TODAY)

    assert list(noted) == [standing]
    assert "horn_noted" in noted.explain()


def test_pages_say_so_and_the_note_is_taken_away_where_the_horn_is_taken_back(lending, as_, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW + 2 * DAY)
    loan, client = lending.issue(due_on=make.TODAY + DAY), as_(lending.teacher)
    home = f"/s/{lending.school.slug}/"
    pages = {
        "horns/": "noted as back",
        f"horns/{lending.horn.pk}/": "noted as back, its loan to",
        f"loans/{loan.pk}/": "is noted as back; until it is taken back its loan goes on.",
        f"loans/{loan.pk}/return/": "It was another horn: take the note away",
        "loans/": "",
    }
    note(lending)
    for page, said in pages.items():
        told = client.get(home + page).content.decode()
        assert (page, said in told, "day overdue" in told) == (page, True, False)

    answer = client.post(f"{home}loans/{loan.pk}/noted/", follow=True)

    assert "The note is taken away" in answer.content.decode()
    assert "day overdue" in client.get(f"{home}loans/").content.decode()
