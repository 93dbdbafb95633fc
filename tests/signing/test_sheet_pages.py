"""The page of one sheet that is out: its horn is handed out there, once, on what was signed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.lending.models import Loan
from fleet.signing.actions.sheets import put_away
from fleet.signing.models import SheetOut
from tests import make
from tests.pages import folded
from tests.signing.test_issue_pages import DUE
from tests.signing.test_sheets import send

DAY = timedelta(days=1)
pytestmark = [pytest.mark.usefixtures("at_noon"), pytest.mark.either_engine]


def test_the_sheets_page_hands_the_horn_out_on_what_is_signed_and_then_leads_to_the_loan(client, lending):
    one = send(lending)
    page = reverse("loans:sheet-out", args=(lending.school.slug, one.pk))
    assert f"It is signed: hand out {lending.horn}" in folded(client.get(page))

    answer = client.post(page, {"signed_on": (make.TODAY - DAY).isoformat()})

    loan = Loan.objects.get()
    assert (loan.pupil, loan.guardian, loan.due_on) == (lending.pupil, lending.guardian, DUE)
    assert (loan.signed_on, [str(one) for one in loan.accessories.all()]) == (make.TODAY - DAY, ["case", "mute"])
    one.refresh_from_db()
    assert (one.loan, one.put_away_at) == (loan, make.NOW)
    assert answer.url == client.get(page).url == reverse("loans:loan", args=(lending.school.slug, loan.pk))


def test_the_sheets_page_refuses_a_day_to_come_and_a_horn_checked_since(client, lending):
    page = reverse("loans:sheet-out", args=(lending.school.slug, send(lending).pk))

    late = client.post(page, {"signed_on": (make.TODAY + DAY).isoformat()})
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=1))
    stale = client.post(page, {"signed_on": make.TODAY.isoformat()})

    assert (late.status_code, stale.status_code) == (422, 409)
    assert f"{lending.horn} was checked again after the sheet was printed. Print the sheet again." in folded(stale)
    assert not Loan.objects.exists()


def test_the_sheet_of_another_pupil_is_put_away_without_the_loan(lending):
    guardian = make.guardian(lending.school)
    theirs = send(lending, pupil=make.pupil(lending.school, guardian), guardian=guardian)
    mine = send(lending)

    loan = lending.issue()

    assert SheetOut.objects.get(pk=mine.pk).loan == loan
    assert SheetOut.objects.get(pk=theirs.pk).loan is None
    assert not SheetOut.objects.not_put_away().exists()


def test_a_sheet_put_away_hands_nothing_out_and_leads_to_issuing(client, lending):
    one = send(lending)
    put_away(school=lending.school, sheets=[one.pk], by=lending.teacher, at=make.NOW)

    page = client.get(reverse("loans:sheet-out", args=(lending.school.slug, one.pk)))

    assert "Put away on 14 September 2026" in folded(page)
    assert "It is signed" not in folded(page)
    assert client.get(page.context["issue"]).context["draft"].pupil == lending.pupil
