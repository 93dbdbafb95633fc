"""Sheets to sign that are out: who waits for them, from when on they are late, and where they are issued."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.register.actions.whereabouts import change_standing
from fleet.signing.models import SHEET_DAYS, SheetOut
from fleet.signing.queries.awaited import sheets_by_class, way_to
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up
from tests.pages import folded
from tests.signing.test_issue_pages import DUE
from tests.signing.test_sheets import owed, send

DAY = timedelta(days=1)
pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.fixture
def client(lending, as_):
    return as_(lending.teacher)


def test_nobody_waits_for_the_sheet_of_a_horn_that_was_withdrawn(lending):
    send(lending)
    change_standing(horn=lending.horn, kind="withdrawn", reason="Crushed", by=lending.teacher, at=make.NOW)
    assert (owed(lending), list(SheetOut.objects.out())) == ([], [])


def test_nobody_waits_for_the_sheet_of_a_pupil_who_left(lending):
    send(lending)
    Pupil.objects.filter(pk=lending.pupil.pk).update(left_on=make.TODAY)
    assert (owed(lending), list(SheetOut.objects.out())) == ([], [])


def test_nobody_waits_for_a_sheet_while_another_has_the_horn(lending):
    send(lending)
    other = make.pupil(lending.school, make.guardian(lending.school))
    make.loan(lending.horn, other, lending.teacher)
    assert (owed(lending), list(SheetOut.objects.out())) == ([], [])


@pytest.mark.parametrize(
    ("after", "due_in", "late"),
    [(SHEET_DAYS, 100, False), (SHEET_DAYS + 1, 100, True), (3, 3, False), (4, 3, True)],
    ids=["a fortnight", "a day more", "the day the horn would be due", "the day after"],
)
def test_a_sheet_is_late_after_a_fortnight_or_the_day_the_horn_would_be_due(lending, after, due_in, late):
    send(lending, due_on=make.TODAY + due_in * DAY)

    (one,) = owed(lending, make.TODAY + after * DAY)

    assert (one.since, one.late) == (make.TODAY, late)
    assert one.what == f"{lending.horn}: the sheet is with the family of {lending.pupil.name}"


def test_the_way_out_is_the_page_where_it_is_issued_with_what_is_signed(client, lending):
    send(lending)
    (one,) = owed(lending)

    answer = client.get(one.way.address(lending.school.slug))

    assert answer.templates[0].name == "loans/issue_sign.html"
    draft = answer.context["draft"]
    assert (draft.horn, draft.pupil, draft.form.cleaned_data["due_on"]) == (lending.horn, lending.pupil, DUE)
    assert draft.form.along() == ["case", "mute"]
    assert "It says something else" not in folded(answer)


def test_a_sheet_from_before_a_check_or_a_new_agreement_is_to_be_printed_again(client, lending):
    one = send(lending)
    address = way_to([one], "").address(lending.school.slug)

    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(hours=1))
    assert "It says something else than what stands here. Print it again" in folded(client.get(address))
    lending.check = lending.horn.checks.order_by("-at")[0]
    send(lending)
    assert "It says something else" not in folded(client.get(address))
    write_version(school=lending.school, words="New words.", seen=1, by=lending.teacher, at=make.NOW)
    assert "It says something else" in folded(client.get(address))


def test_the_sheets_of_a_class_are_one_line_on_today_and_lead_to_all_of_them(client, lending):
    Pupil.objects.filter(pk=lending.pupil.pk).update(group="Band")
    send(lending)
    for group in ("Band", "Choir"):
        guardian, horn = make.guardian(lending.school), make.horn(lending.school)
        seen = make.check(horn, lending.teacher)
        pupil = make.pupil(lending.school, guardian, group=group)
        send(lending, horn=horn, pupil=pupil, guardian=guardian, check_seen=seen.pk, at=make.NOW + DAY)

    home = reverse("desk:today", args=(lending.school.slug,))
    (pile,) = [one for one in client.get(home).context["piles"] if one.title == "Sheets to sign that are out"]

    assert [(task.what, task.when, task.late) for task in pile.tasks] == [
        ("2 sheets of Band are with the families", make.TODAY, False),
        (f"{horn}: the sheet is with the family of {pupil.name}", make.TODAY + DAY, False),
    ]
    batch = client.get(pile.tasks[0].address).context["batch"]
    assert {(entry.pupil.group, entry.sheet is not None) for entry in batch.entries} == {("Band", True)}
    assert {entry.pupil for entry in batch.entries if lending.pupil == entry.pupil} == {lending.pupil}
    assert str(lending.horn) in client.get(pile.everything).content.decode()


def test_today_folds_no_sheets_that_cannot_be_issued_together(lending):
    send(lending)
    guardian, horn = make.guardian(lending.school), make.horn(lending.school)
    seen, pupil = make.check(horn, lending.teacher), make.pupil(lending.school, guardian)
    other = {"horn": horn, "pupil": pupil, "guardian": guardian, "check_seen": seen.pk}

    send(lending, **other)
    assert [len(rows) for rows in sheets_by_class(lending.school)] == [2]
    send(lending, **other, due_on=DUE + DAY)
    assert [len(rows) for rows in sheets_by_class(lending.school)] == [1, 1]


@pytest.mark.django_db(transaction=True)
def test_of_a_horn_issued_and_printed_for_at_the_same_moment_no_sheet_is_waited_for():
    lending = set_up()
    guardian = make.guardian(lending.school)
    other = make.pupil(lending.school, guardian)

    issued, printed = all_at_once([lending.issue, lambda: send(lending, pupil=other, guardian=guardian)])

    assert isinstance(issued, Loan)
    assert isinstance(printed, SheetOut | Refused)
    assert not SheetOut.objects.not_put_away().exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_who_print_the_same_sheet_at_the_same_moment_one_is_waited_for():
    lending = set_up()

    printed = all_at_once([lambda: send(lending), lambda: send(lending)])

    assert all(isinstance(one, SheetOut) for one in printed)
    assert SheetOut.objects.not_put_away().count() == 1
