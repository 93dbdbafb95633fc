"""Loans that run when a school begins: they come in as they are, and wait for their sheets."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.actions.lists.running_loans import _due
from fleet.ground.refusal import Refused
from fleet.lending.actions.dates import renew
from fleet.lending.actions.in_a_row import take_unchanged
from fleet.lending.models import Loan, PastLoan
from fleet.people.models import Pupil
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.signing.actions.listed import Listed, begin_listed
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.exchange.test_guards import READ
from tests.pages import folded
from tests.reading import horn_now

pytestmark = pytest.mark.both_engines

HEAD = ["Nr", "Type", "Lent to", "Out since", "Due back", "Came back"]


def furnished(desk: Desk) -> None:
    for number in ("H-1", "H-2", "H-3"):
        make.horn(desk.school, number=number, build="")
    for name in ("Ada Quill", "Ben Low"):
        make.pupil(desk.school, make.guardian(desk.school, name=f"Of {name}"), name=name)
    make.pupil(desk.school, name="Nobody’s Own")


def test_running_loans_come_in_from_a_list_of_all_horns_with_their_sheets_to_be_signed(desk: Desk, as_):
    furnished(desk)
    rows = [
        HEAD,
        ["H-1", "double", "Quill, Ada", "1.9.2025", "31.7.27", ""],
        ["H-2", "single", "Ben Low", "", "", ""],
        ["H-3", "single", "", "", "", ""],
        ["H-3", "single", "Ben Low", "1.9.2019", "", "1.7.2020"],
        ["Summe", "", "", "", "", ""],
    ]
    imported = desk.looked_over(as_csv(rows), kind="running")

    assert verdicts(imported) == ["new", "new", "same", "same", "same"]
    assert [(row, column, why) for row, column, _, why in wrongs(imported, "noted")] == [
        (3, "Out since", "No day is given. The loan begins today."),
        (3, "Due back", "No day is given. The horn is due on 12 July 2027."),
    ]
    shown = folded(as_(desk.head).get(reverse("exchange:import", args=[desk.school.slug, imported.pk])))
    assert '<span class="quiet">Signs</span> Of Ada Quill' in shown
    assert '<span class="quiet">Due back</span> 31 July 2027' in shown
    desk.write(imported)

    one, two = Loan.objects.at(desk.school).order_by("horn__number").select_related("pupil", "guardian", "horn")
    assert (one.pupil.name, one.guardian.name, one.issued_on, one.due_on) == (
        "Ada Quill", "Of Ada Quill", date(2025, 9, 1), date(2027, 7, 31),
    )  # fmt: skip
    assert (one.signed_on, one.from_list, one.check_at_issue, one.agreement.version) == (None, True, None, 1)
    today = make.TODAY
    assert (two.issued_on, two.due_on) == (today, date(2027, 7, 12))
    assert (one.horn.holder_name, one.horn.where, one.horn.due_on) == ("Ada Quill", "out", date(2027, 7, 31))
    owed = [owed.what for owed in horn_now(one.horn, today=today).owed if owed.code == "unsigned"]
    assert owed == ["H-1, Ada Quill: have the sheet signed"]
    assert verdicts(desk.looked_over(as_csv(rows), kind="running")) == ["same"] * 5


@pytest.mark.parametrize(
    ("due", "back", "verdict", "until"),
    [
        ("", "14.9.2026", "same", []),
        ("", "15.9.2026", "new", [date(2026, 9, 15)]),
        ("15.9.2026", "15.9.2026", "new", [date(2026, 9, 15)]),
        ("16.9.2026", "15.9.2026", "refused", []),
    ],
)
def test_a_day_of_return_that_lies_ahead_is_when_the_horn_is_due(desk: Desk, due, back, verdict, until):
    furnished(desk)
    rows = [["Nr", "Lent to", "Out since", "Due back", "Rückgabe"], ["H-1", "Ada Quill", "1.9.2026", due, back]]

    imported = desk.looked_over(as_csv(rows), kind="running")

    assert verdicts(imported) == [verdict]
    if verdict == "new":
        desk.write(imported)
    assert [loan.due_on for loan in Loan.objects.at(desk.school)] == until


def test_what_is_wrong_with_a_running_loan_is_said(desk: Desk):
    furnished(desk)
    make.horn(desk.school, number="H-4", withdrawn_on=make.TODAY)
    out = make.horn(desk.school, number="H-5")
    make.loan(out, Pupil.objects.get(name="Ben Low"), desk.head)
    make.pupil(desk.school, make.guardian(desk.school), name="Gone", left_on=make.TODAY)
    PastLoan.objects.create(
        horn=Horn.objects.get(number="H-3", school=desk.school),
        pupil=Pupil.objects.get(name="Ben Low"),
        issued_on=date(2025, 1, 1),
        returned_on=date(2025, 7, 1),
    )
    rows = [
        HEAD,
        ["H-9", "", "Ada Quill", "", "", ""],
        ["H-1", "", "Ida Unknown", "", "", ""],
        ["H-1", "", "Nobody’s Own", "", "", ""],
        ["H-4", "", "Ada Quill", "", "", ""],
        ["H-5", "", "Ada Quill", "", "", ""],
        ["H-2", "", "Gone", "", "", ""],
        ["H-3", "", "Ada Quill", "30.6.2025", "", ""],
        ["H-3", "", "Ben Low", "1.7.2025", "", ""],
        ["H-2", "", "Ben Low", "", "1.9.2019", "one day"],
        ["", "", "Ben Low", "", "", ""],
    ]

    imported = desk.looked_over(as_csv(rows), kind="running")

    said = [(row, sentence.partition(". ")[0]) for row, _, _, sentence in wrongs(imported)]
    assert said == [
        (2, "No horn on the register has this number."),
        (3, "This pupil is not on record"),
        (4, "Row 3 has this horn out too."),
        (5, "This horn was withdrawn on 14 September 2026."),
        (6, "Ben Low has this horn by the records."),
        (7, "This pupil has left the school."),
        (8, "Ben Low had this horn from 1 January 2025 to 1 July 2025"),
        (9, "Row 8 has this horn out too."),
        (10, "This is no day we can read"),
        (10, "Row 7 has this horn out too."),
        (11, "It is missing."),
    ]
    assert verdicts(imported) == ["refused"] * 10


def test_a_pupil_nobody_answers_for_has_nobody_to_sign_and_a_horn_goes_out_again_on_the_day_it_came_back(desk: Desk):
    furnished(desk)
    ben = Pupil.objects.get(name="Ben Low")
    horn = Horn.objects.get(number="H-3", school=desk.school)
    PastLoan.objects.create(horn=horn, pupil=ben, issued_on=date(2025, 1, 1), returned_on=date(2025, 7, 1))
    rows = [HEAD, ["H-1", "", "Nobody’s Own", "", "", ""], ["H-3", "", "Ben Low", "1.7.2025", "30.6.2025", ""]]

    imported = desk.looked_over(as_csv(rows), kind="running")

    assert verdicts(imported) == ["refused", "new"]
    assert wrongs(imported)[0][3] == "Nobody on record answers for this pupil, so nobody can sign."
    due = "A horn cannot be due back before it was issued. The horn is due on 12 July 2027."
    assert wrongs(imported, "noted")[-1][3] == due


def test_what_is_taken_for_a_day_that_cannot_be_is_said_once(desk: Desk, as_):
    furnished(desk)
    rows = [
        HEAD,
        ["H-1", "", "Ada Quill", "1.9.2025", "30.6.2025", ""],
        ["H-2", "", "Ben Low", "some day", "soon", ""],
    ]

    imported = desk.looked_over(as_csv(rows), kind="running")

    unread = "This is no day we can read. Write it like 2026-09-14."
    assert wrongs(imported, "noted") == [
        (
            2,
            "Due back",
            "2025-06-30",
            "A horn cannot be due back before it was issued. The horn is due on 12 July 2027.",
        ),
        (3, "Out since", "some day", f"{unread} The loan begins today."),
        (3, "Due back", "soon", f"{unread} The horn is due on 12 July 2027."),
    ]
    shown = folded(as_(desk.head).get(reverse("exchange:import", args=[desk.school.slug, imported.pk])))
    assert "In 2 rows a cell is missing or cannot be taken: what is done instead stands below." in shown
    assert "left empty" not in shown
    desk.write(imported)
    assert {str(loan.due_on) for loan in Loan.objects.at(desk.school)} == {"2027-07-12"}


@pytest.mark.either_engine
def test_a_due_day_may_lie_ahead_but_not_for_ever():
    assert [_due(text, READ) for text in ("31.7.27", "31.7.36", "31.7.37", "31.7.2027", "1.1.26")] == [
        "2027-07-31", "2036-07-31", "1937-07-31", "2027-07-31", "2026-01-01",
    ]  # fmt: skip
    last = READ.today + timedelta(days=3660)
    assert _due(str(last), READ) == str(last)
    with pytest.raises(ValidationError, match="too far away"):
        _due(str(last + timedelta(days=1)), READ)


def test_running_loans_are_undone_as_long_as_nothing_came_of_them(desk: Desk):
    furnished(desk)
    rows = [HEAD, ["H-1", "", "Ada Quill", "1.9.2025", "", ""]]
    imported = desk.bring_in(as_csv(rows), kind="running")
    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert not Loan.objects.at(desk.school).exists()
    assert Horn.objects.get(number="H-1", school=desk.school).holder_name == ""

    imported = desk.bring_in(as_csv(rows), kind="running")
    loan = Loan.objects.get(horn__school=desk.school)
    later = loan.due_on + timedelta(days=1)
    renew(loan=loan, due_on=later, due_seen=loan.due_on, reason="", by=desk.head, at=make.NOW)
    with pytest.raises(Refused, match="was changed since"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)
    Loan.objects.filter(pk=loan.pk).update(due_on=loan.due_on)
    with pytest.raises(Refused, match=r"Something hangs on one of these loans by now \(loan period\)"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)


@pytest.mark.parametrize("since", ["not found", "out then"])
def test_a_horn_that_went_out_since_the_preview_is_looked_at_again(desk: Desk, since: str):
    furnished(desk)
    imported = desk.looked_over(as_csv([HEAD, ["H-1", "", "Ada Quill", "1.9.2025", "", ""]]), kind="running")
    horn, ben = Horn.objects.get(number="H-1", school=desk.school), Pupil.objects.get(name="Ben Low")
    if since == "not found":
        change_standing(horn=horn, kind="not-found", reason="Nobody has it", by=desk.head, at=make.NOW)
    else:
        PastLoan.objects.create(horn=horn, pupil=ben, issued_on=date(2025, 8, 1), returned_on=date(2025, 10, 1))

    with pytest.raises(Refused, match="was changed since the preview"):
        desk.write(imported)
    imported.refresh_from_db()
    assert verdicts(desk.look_over(imported)) == ["refused"]


def test_a_list_whose_pupil_is_gone_begins_no_loan(desk: Desk):
    furnished(desk)
    horn, ada = (
        Horn.objects.get(number="H-1", school=desk.school),
        Pupil.objects.get(name="Ada Quill", school=desk.school),
    )
    one = Listed(horn.pk, ada.pk, 10**6, make.TODAY, make.TODAY)

    with pytest.raises(Refused, match="not on record any more"):
        begin_listed(school=desk.school, listed=[one], by=desk.head, at=make.NOW)


def test_a_horn_never_checked_before_it_went_out_is_looked_over_on_its_own_page(desk: Desk, as_):
    furnished(desk)
    desk.bring_in(as_csv([HEAD, ["H-1", "", "Ada Quill", "1.9.2025", "", ""]]), kind="running")
    loan = Loan.objects.get(horn__school=desk.school)
    head, slug = as_(desk.head), desk.school.slug

    assert "Nobody looked it over before it went out." in folded(head.get(reverse("loans:loan", args=[slug, loan.pk])))
    back = reverse("loans:return", args=[slug, loan.pk])
    assert "Nobody looked it over before it went out." in folded(head.get(back))
    assert head.get(reverse("reports:loan-sheet", args=[slug, loan.pk])).status_code == 200
    with pytest.raises(Refused, match="never checked before it went out"):
        take_unchanged(loan=loan, cleaned=True, by=desk.head, at=make.NOW)


def test_who_waited_for_a_horn_that_a_list_says_they_have_waits_no_longer(desk: Desk):
    furnished(desk)
    ada, ben = (Pupil.objects.get(school=desk.school, name=name) for name in ("Ada Quill", "Ben Low"))
    horn = Horn.objects.get(number="H-1", school=desk.school)
    kept = make.wish(ada, desk.head, horn=horn, reserved_until=make.TODAY)
    others = [make.wish(ada, desk.head, kind="double"), make.wish(ben, desk.head, horn=horn)]

    desk.bring_in(as_csv([HEAD, ["H-1", "", "Ada Quill", "", "", ""]]), kind="running")

    for wish in (kept, *others):
        wish.refresh_from_db()
    assert kept.ended_on is not None
    assert [wish.ended_on for wish in others] == [None, None]


@pytest.mark.parametrize("kind", ["running", "past-loans"])
def test_the_sum_under_a_list_of_loans_is_no_horn_and_no_pupil(desk: Desk, kind):
    furnished(desk)
    rows = [HEAD, ["Summe 31", "", "Ada Quill", "1.9.2019", "", "1.7.2020"], ["H-1", "", "31 Summe", "", "", ""]]
    if kind == "running":
        rows = [HEAD, ["Summe 31", "", "Ada Quill", "", "", ""], ["H-1", "", "31 Summe", "", "", ""]]

    imported = desk.looked_over(as_csv(rows), kind=kind)

    assert verdicts(imported) == ["refused", "refused"]
    said = [
        (row, why) for row, _, _, why in wrongs(imported) if "sum" in why or "on record" in why or "has this" in why
    ]
    assert said == [
        (2, "This reads like the sum under a list, not like a horn."),
        (3, "This reads like the sum under a list, not like a pupil."),
    ]
