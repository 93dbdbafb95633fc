"""Nobody is written to about a horn that is noted as back, until the note is taken away."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.refusal import Refused
from fleet.lending.actions import returning
from fleet.letters.models import Letter
from fleet.letters.queries.calendar import due_dates
from fleet.letters.queries.next import next_letters
from tests import make
from tests.letters.running import run

pytestmark = pytest.mark.both_engines
DAY = timedelta(days=1)


def test_no_letter_goes_while_it_is_noted_as_back(lending, postbox):
    loan = lending.issue(due_on=make.TODAY + DAY)
    waits = make.letter(loan, occasion="before-3", state="waiting", due_on=loan.due_on)
    at, origin = make.NOW + 2 * DAY, "https://horns.example.org"
    make.return_note(loan, lending.teacher)

    run(lending, 2)

    waits.refresh_from_db()
    assert (postbox.arrived, waits.state, waits.trouble) == ([], "dropped", "The horn is noted as back.")
    assert (next_letters(lending.school, at).now, next_letters(lending.school, at).day) == (0, None)
    assert b"BEGIN:VEVENT" not in due_dates(lending.school, at, origin)

    returning.take_note_away(loan=loan, by=lending.teacher, at=at)
    run(lending, 2)

    assert list(Letter.objects.filter(state="sent").values_list("occasion", flat=True)) == ["after-1"]
    assert b"BEGIN:VEVENT" in due_dates(lending.school, at, origin)
    with pytest.raises(Refused, match="Nothing is noted of"):
        returning.take_note_away(loan=loan, by=lending.teacher, at=at)


def test_of_the_loans_that_fall_due_on_a_day_those_noted_as_back_are_not_counted(lending):
    loans = [
        make.loan(make.horn(lending.school), lending.pupil, lending.teacher, due_on=make.TODAY + 20 * DAY)
        for _ in range(3)
    ]
    for loan, day, then in zip(loans, [6, 6, None], [2, 1, 0], strict=True):
        make.return_note(loan, lending.teacher)
        told = next_letters(lending.school, make.NOW)
        assert (told.day, told.then) == (day and make.TODAY + day * DAY, then)
