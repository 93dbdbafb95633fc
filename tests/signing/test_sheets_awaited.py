"""Sheets to sign that are out: who waits for them, from when on they are late, and where they are issued."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.register.actions.whereabouts import change_standing
from fleet.signing.actions.sheets import put_away, send_home
from fleet.signing.models import SHEET_DAYS, SheetOut
from fleet.signing.queries.awaited import batch_of, batches_out, sheets_by_class, way_to, with_those_out
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up
from tests.pages import folded
from tests.signing.test_issue_pages import DUE
from tests.signing.test_sheets import owed, send, terms

DAY = timedelta(days=1)
pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.mark.parametrize("kind", ["withdrawn", "not-found"])
def test_nobody_waits_for_the_sheet_of_a_horn_that_the_school_has_not_in_hand(lending, kind):
    send(lending)
    change_standing(horn=lending.horn, kind=kind, reason="Crushed", by=lending.teacher, at=make.NOW)
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


def test_the_way_out_is_the_sheets_page_which_leads_to_where_it_is_issued_with_what_is_signed(client, lending):
    send(lending)
    (one,) = owed(lending)

    answer = client.get(client.get(one.way.address(lending.school.slug)).context["issue"])

    assert answer.templates[0].name == "loans/issue_sign.html"
    draft = answer.context["draft"]
    assert (draft.horn, draft.pupil, draft.form.cleaned_data["due_on"]) == (lending.horn, lending.pupil, DUE)
    assert draft.form.along() == ["case", "mute"]
    assert "It says something else" not in folded(answer)


def test_a_sheet_from_before_a_check_is_to_be_printed_again(client, lending):
    one = send(lending)
    address = way_to([one], "").address(lending.school.slug)

    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(hours=1))
    page = folded(client.get(address))
    assert "It says something else than what stands here. Print it again" in page
    assert f'<a href="{reverse("loans:sheet-out", args=(lending.school.slug, one.pk))}">Is it signed?' in page
    lending.check = lending.horn.checks.order_by("-at")[0]
    send(lending)
    assert "It says something else" not in folded(client.get(address))


def test_the_sheets_of_a_class_are_one_line_on_today_and_lead_to_all_of_them(client, lending):
    Pupil.objects.filter(pk=lending.pupil.pk).update(group="Choir")
    send(lending)
    for minutes, group in enumerate(("Choir", "Band"), start=1):
        guardian, horn = make.guardian(lending.school), make.horn(lending.school)
        seen = make.check(horn, lending.teacher)
        pupil = make.pupil(lending.school, guardian, group=group)
        at = make.NOW + DAY + timedelta(minutes=minutes)
        send(lending, horn=horn, pupil=pupil, guardian=guardian, check_seen=seen.pk, at=at)

    home = reverse("desk:today", args=(lending.school.slug,))
    (pile,) = [one for one in client.get(home).context["piles"] if one.title == "Sheets to sign that are out"]

    assert [(task.what, task.when, task.late) for task in pile.tasks] == [
        ("2 sheets of Choir are with the families", make.TODAY, False),
        (f"{horn}: the sheet is with the family of {pupil.name}", make.TODAY + DAY, False),
    ]
    batch = client.get(pile.tasks[0].address).context["batch"]
    assert {(entry.pupil.group, entry.sheet is not None) for entry in batch.entries} == {("Choir", True)}
    assert {entry.pupil for entry in batch.entries if lending.pupil == entry.pupil} == {lending.pupil}
    assert str(lending.horn) in client.get(pile.everything).content.decode()


def test_today_folds_no_sheets_that_cannot_be_issued_together(lending):
    send(lending)
    guardian, horn = make.guardian(lending.school), make.horn(lending.school)
    seen, pupil = make.check(horn, lending.teacher), make.pupil(lending.school, guardian)
    other = {"horn": horn, "pupil": pupil, "guardian": guardian, "check_seen": seen.pk}

    send(lending, **other)
    assert [len(rows) for rows in sheets_by_class(SheetOut.objects.out())] == [2]
    send(lending, **other, due_on=DUE + DAY)
    assert [len(rows) for rows in sheets_by_class(SheetOut.objects.out())] == [1, 1]


def a_class(lending, *, of=3, group="5b"):
    """The sheets of so many pupils, printed in one go."""
    Pupil.objects.filter(pk=lending.pupil.pk).update(group=group)
    loans = [terms(lending)]
    for n in range(1, of):
        guardian, horn = make.guardian(lending.school), make.horn(lending.school)
        seen = make.check(horn, lending.teacher)
        pupil = make.pupil(lending.school, guardian, name=f"Zora {n}", group=group)
        loans.append(terms(lending, horn=horn, pupil=pupil, guardian=guardian, check_seen=seen.pk))
    return send_home(loans=loans, by=lending.teacher, at=make.NOW)


def test_today_says_how_many_of_the_sheets_printed_in_one_go_are_in_and_leads_to_them(client, lending):
    first, *_ = a_class(lending)
    horn, later = make.horn(lending.school), make.NOW + timedelta(minutes=1)
    send(lending, horn=horn, check_seen=make.check(horn, lending.teacher).pk, at=later)
    client.post(reverse("loans:sheet-out", args=(lending.school.slug, first.pk)), {"signed_on": make.TODAY})

    home = reverse("desk:today", args=(lending.school.slug,))
    (pile,) = [one for one in client.get(home).context["piles"] if one.title == "Sheets to sign that are out"]

    assert [task.what for task in pile.tasks] == [
        "5b: 1 of 3 sheets are in",
        f"{horn}: the sheet is with the family of {lending.pupil.name}",
    ]
    page = client.get(pile.tasks[0].address)
    assert [one.pupil for one in page.context["batch"].back] == [lending.pupil]
    assert [one.pupil.name for one, _ in page.context["out"]] == ["Zora 1", "Zora 2"]
    batch = client.get(page.context["issue"]).context["batch"]
    assert {entry.pupil.name for entry in batch.entries if entry.sheet} == {"Zora 1", "Zora 2"}


def test_sheets_put_away_or_of_who_left_are_counted_neither_in_nor_out(lending):
    _, second, third = a_class(lending)
    (batch,) = batches_out(with_those_out(lending.school))
    assert (batch.in_words, len(batch.rest)) == ("5b: 0 of 3 sheets are in", 0)

    put_away(school=lending.school, sheets=[second.pk], by=lending.teacher, at=make.NOW)
    Pupil.objects.filter(pk=third.pupil_id).update(left_on=make.TODAY, group="")

    (batch,) = batches_out(with_those_out(lending.school))
    assert (batch.in_words, batch.rest) == ("5b: 0 of 1 sheets are in", [second, third])
    assert batch_of(second) == batch
    put_away(school=lending.school, sheets=[batch.out[0].pk], by=lending.teacher, at=make.NOW)
    assert batches_out(with_those_out(lending.school)) == []


def test_what_two_people_print_at_one_moment_and_at_another_school_is_not_together(lending, elsewhere):
    first, *_ = a_class(lending)
    make.sheet(make.horn(elsewhere.school), elsewhere.pupil, elsewhere.teacher)
    horn = make.horn(lending.school)
    seen = make.check(horn, lending.teacher)
    other = make.staff(Role.TEACHER, lending.school)
    send_home(loans=[terms(lending, horn=horn, check_seen=seen.pk)], by=other, at=make.NOW)

    assert [len(batch.sheets) for batch in batches_out(with_those_out(lending.school))] == [3, 1]
    assert len(batch_of(first).sheets) == 3


def test_the_page_of_a_batch_takes_as_many_queries_for_one_that_is_in_as_for_two(
    client, lending, django_assert_max_num_queries
):
    sheets = a_class(lending, of=4)
    page = reverse("loans:sheets-together", args=(lending.school.slug, sheets[0].pk))
    for one in sheets[:2]:
        client.post(reverse("loans:sheet-out", args=(lending.school.slug, one.pk)), {"signed_on": make.TODAY})
        with django_assert_max_num_queries(13):
            client.get(page)


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
