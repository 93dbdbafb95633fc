"""The rows of the long lists, read by their keys: they are what the models read, whoever asked before."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.desk.queries.pupils import listed
from fleet.ground import paging
from fleet.ground.access import Role
from fleet.ground.paging import one_page
from fleet.lending.models import Loan
from fleet.lending.queries.listing import _SHOWN as LOANS
from fleet.people.models import Pupil
from fleet.register.models import Horn
from fleet.register.queries.listing import _SHOWN as HORNS
from fleet.register.queries.listing import SHOWN
from tests import make

pytestmark = pytest.mark.both_engines


@pytest.fixture
def horns(db):
    school = make.school()
    return [
        make.horn(school, place=make.place(school), due_on=make.TODAY, holder_name="Bo", grade=2, noted_back=True),
        make.horn(school, place=None, checked_on=make.TODAY, withdrawn_on=make.TODAY, struck_out=True),
        make.horn(school, place=make.place(school, room="Loft", shelf="")),
    ]


def test_a_horn_by_its_key_holds_what_its_row_does(horns):
    for read in HORNS([horn.pk for horn in horns]):
        row = Horn.objects.get(pk=read.pk)
        for name in SHOWN:
            if "__" not in name:
                theirs, ours = getattr(row, name), getattr(read, name)
                assert (ours, type(ours)) == (theirs, type(theirs)), name
        assert (read.place, str(read.place)) == (row.place, str(row.place))
        assert read.photo is None


def test_what_was_not_read_is_read_when_it_is_asked_for(horns):
    (read,) = HORNS([horns[0].pk])

    with CaptureQueriesContext(connection) as queries:
        assert read.maker == Horn.objects.values_list("maker", flat=True).get(pk=read.pk)

    assert len(queries) == 2
    read.number = "HN-new"
    read.save(update_fields=["number"])
    assert Horn.objects.get(pk=read.pk).number == "HN-new"


def test_a_loan_by_its_key_stands_with_its_horn_pupil_and_guardian(lending):
    loan = make.loan(make.horn(lending.school), make.pupil(lending.school, lending.guardian), lending.teacher)

    (read,) = LOANS([loan.pk])

    with CaptureQueriesContext(connection) as queries:
        assert (str(read.horn), read.horn.kind, read.horn.pk) == (str(loan.horn), loan.horn.kind, loan.horn_id)
        for name in ("name", "year", "group"):
            assert getattr(read.pupil, name) == getattr(loan.pupil, name)
        for name in ("issued_on", "due_on", "returned_on"):
            assert getattr(read, name) == getattr(loan, name)
        assert read.guardian.reached == lending.guardian.reached
    assert not queries


def test_a_pupil_of_the_list_has_the_own_guardians_and_horns(lending):
    first = make.pupil(lending.school, lending.guardian, make.guardian(lending.school))
    second, third = make.pupil(lending.school, lending.guardian), make.pupil(lending.school)
    loans = [make.loan(make.horn(lending.school), one, lending.teacher) for one in (first, first, third)]
    make.loan(make.horn(lending.school), second, lending.teacher, returned_on=make.TODAY)

    read = {pupil.pk: pupil for pupil in listed([first.pk, second.pk, third.pk])}

    assert {one.pk for one in read[first.pk].answered_for_by} == {one.pk for one in first.guardians.all()}
    assert [one.name for one in read[second.pk].answered_for_by] == [lending.guardian.name]
    assert read[third.pk].answered_for_by == []
    assert read[first.pk].has_now == list(Loan.objects.filter(pk__in=[one.pk for one in loans[:2]]))
    assert [read[second.pk].has_now, read[third.pk].has_now] == [[], loans[2:]]
    assert str(read[third.pk].has_now[0].horn) == str(loans[2].horn)


def test_rows_come_in_the_order_of_their_keys_without_those_struck_out_meanwhile(horns):
    newest_first = Horn.objects.order_by("-pk")

    page = one_page(
        lambda: newest_first, lambda keys: Horn.objects.filter(pk__in=keys[1:]).order_by("pk"), order=["-pk"], number=1
    )

    assert page.rows == [horns[1], horns[0]]


@pytest.mark.parametrize("page", ["horns", "loans", "pupils"])
def test_a_list_asked_for_before_shows_what_is_there_now_and_each_school_its_own(as_, lending, page):
    there, other = make.staff(Role.TEACHER, lending.school), make.school()
    elsewhere = as_(make.staff(Role.TEACHER, other)).get(f"/s/{other.slug}/{page}/").context["page"]
    assert elsewhere.rows == []
    browser, address = as_(there), f"/s/{lending.school.slug}/{page}/"
    for many in (1, 2):
        pupil = make.pupil(lending.school, lending.guardian)
        loan = make.loan(make.horn(lending.school), pupil, lending.teacher)
        row = {"horns": loan.horn, "loans": loan, "pupils": pupil}[page]
        rows = browser.get(address).context["page"].rows
        before = 0 if page == "loans" else 1
        assert (len(rows), row in rows) == (many + before, True)
        # In the other order and on another page it is another question.
        sort = {"horns": "-number", "loans": "-horn", "pupils": "-name"}[page]
        assert browser.get(f"{address}?sort={sort.removeprefix('-')}").context["page"].rows == rows[::1]
        assert browser.get(f"{address}?sort={sort}").context["page"].rows == rows[::-1]


def test_what_made_no_sense_beside_what_does_is_another_list_than_the_whole(as_, db):
    school = make.school()
    good, poor = make.horn(school, grade=1), make.horn(school, grade=3)
    browser, address = as_(make.staff(Role.TEACHER, school)), f"/s/{school.slug}/horns/"

    narrowed = browser.get(f"{address}?grade=1&where=nowhere").context["page"].rows

    assert narrowed == [good]
    assert browser.get(f"{address}?where=nowhere").context["page"].rows == [good, poor]
    assert browser.get(address).context["page"].rows == [good, poor]


def test_a_loan_is_overdue_from_the_day_after_it_was_due(as_, lending, monkeypatch):
    loan = make.loan(make.horn(lending.school), make.pupil(lending.school), lending.teacher, due_on=make.TODAY)
    browser, address = as_(lending.teacher), f"/s/{lending.school.slug}/loans/?state=overdue"
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    assert browser.get(address).context["page"].rows == []

    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW + timedelta(days=1))
    browser = as_(lending.teacher)

    assert browser.get(address).context["page"].rows == [loan]


def test_what_is_kept_is_forgotten_before_it_fills_the_memory(monkeypatch, db):
    monkeypatch.setattr(paging, "MOST_KEPT", 2)
    monkeypatch.setattr(paging, "_KEPT", {})
    for like in ("a", "b", "b", "a"):
        paging.statement(Pupil.objects.all, like)
    assert [*paging._KEPT] == ["a", "b"]

    assert paging.statement(Pupil.objects.none, "c") == ("", ())
    assert [*paging._KEPT] == ["c"]


def test_what_a_list_is_counted_as_is_kept_for_no_other_list(lending):
    make.loan(make.horn(lending.school), make.pupil(lending.school), lending.teacher)
    loans = Loan.objects.at(lending.school)

    def total(rows):
        return one_page(lambda: rows, LOANS, order=["pk"], number=1, counted_as=lambda: rows).total

    assert (total(loans.open()), total(loans.ended())) == (1, 0)


@pytest.mark.either_engine
@pytest.mark.parametrize("adding", [True, False])
def test_a_row_made_of_columns_is_as_new_or_as_known_as_one_the_library_makes(adding):
    made = paging.instance(Horn, {"id": 1}, adding=adding)
    theirs = Horn() if adding else Horn.from_db("default", ["id"], [1])

    assert (made._state.adding, made._state.db) == (theirs._state.adding, theirs._state.db)
