"""Sheets to sign that are out on paper: recorded when they are printed, waited for, and put away."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from fleet.signing.actions.sheets import put_away, send_home
from fleet.signing.models import SheetOut
from tests import make
from tests.pages import folded
from tests.reading import horn_now
from tests.signing.test_issue_pages import DUE, action_of, whole

DAY = timedelta(days=1)
pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.fixture
def page(lending):
    return reverse("loans:issue", args=(lending.school.slug,))


@pytest.fixture
def away(lending):
    return reverse("loans:sheets-away", args=(lending.school.slug,))


def terms(lending, **changes):
    return lending.terms(**{"due_on": DUE, "accessories": ["case", "mute"], **changes})


def send(lending, *, at=make.NOW, **changes):
    return send_home(loans=[terms(lending, **changes)], by=lending.teacher, at=at)[0]


def owed(lending, today=make.TODAY):
    return [one for one in horn_now(Horn.objects.get(pk=lending.horn.pk), today=today).owed if one.code == "sheet"]


def test_a_sheet_that_is_printed_is_recorded_as_out_and_leads_to_the_print(client, page, lending):
    answer = client.post(page + action_of(client.get(page, whole(lending))), {"do": "print"})

    one = SheetOut.objects.get()
    assert (one.horn, one.pupil, one.guardian, one.printed_by) == (
        lending.horn,
        lending.pupil,
        lending.guardian,
        lending.teacher,
    )
    assert (one.printed_at, one.due_on, one.put_away_at) == (make.NOW, DUE, None)
    assert one.accessories == ["mouthpiece", "case", "mute", "spare string"]
    assert answer.status_code == 302
    assert client.get(answer.url).headers["content-type"] == "application/pdf"


def test_looking_at_a_sheet_records_nothing(client, page, lending):
    shown = client.get(page, whole(lending)).content.decode()
    look = shown.split("sheet-to-sign.pdf?")[1].split('"')[0].replace("&amp;", "&")

    sheet = client.get(f"{reverse('reports:sheet-to-sign', args=(lending.school.slug,))}?{look}")

    assert sheet.headers["content-type"] == "application/pdf"
    assert "nothing is noted by it" in shown
    assert not SheetOut.objects.exists()


def test_the_sheets_of_a_class_are_recorded_together(client, lending):
    guardian = make.guardian(lending.school)
    other, horn = make.pupil(lending.school, guardian), make.horn(lending.school)
    make.check(horn, lending.teacher)
    page = reverse("loans:batch", args=(lending.school.slug,))
    asked = {"pair": [f"{lending.pupil.pk}.{lending.horn.pk}", f"{other.pk}.{horn.pk}"], "due_on": DUE.isoformat()}
    whole_batch = client.get(page, asked)

    answer = client.post(f"{page}?{whole_batch.context['whole']}", {"do": "print"})

    assert {(one.horn, one.pupil) for one in SheetOut.objects.all()} == {(lending.horn, lending.pupil), (horn, other)}
    assert client.get(answer.url).headers["content-type"] == "application/pdf"
    shown = folded(client.get(f"{page}?{whole_batch.context['whole']}"))
    assert "2 sheets are with the families" in shown
    assert "The sheet is with the family since 14 September 2026." in shown


def test_of_sheets_printed_together_all_are_recorded_or_none(lending):
    horn = make.horn(lending.school)
    guardian = make.guardian(lending.school)
    unchecked = terms(lending, horn=horn, pupil=make.pupil(lending.school, guardian), guardian=guardian)

    with pytest.raises(Refused):
        send_home(loans=[terms(lending), unchecked], by=lending.teacher, at=make.NOW)

    assert not SheetOut.objects.exists()


def test_a_page_whose_horn_was_checked_meanwhile_says_why_it_prints_nothing(client, page, lending):
    address = page + action_of(client.get(page, whole(lending)))
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=1))

    answer = client.post(address, {"do": "print"})

    assert answer.status_code == 409
    assert f"{lending.horn} was checked again meanwhile. Look at it first." in folded(answer)
    assert not SheetOut.objects.exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"due_on": make.TODAY - DAY},
        {"agreement_version": 7},
        {"check_seen": 0},
    ],
    ids=["due yesterday", "another agreement", "another check"],
)
def test_no_sheet_goes_home_for_a_loan_that_could_not_be_made(lending, changes):
    with pytest.raises(Refused):
        send(lending, **changes)
    send(lending, due_on=make.TODAY)


def test_no_sheet_goes_home_with_somebody_elses_guardian_or_for_a_leaver(lending):
    with pytest.raises(Refused, match="does not answer for"):
        send(lending, guardian=make.guardian(lending.school))
    Pupil.objects.filter(pk=lending.pupil.pk).update(left_on=make.TODAY)
    with pytest.raises(Refused, match="left the school"):
        send(lending)


def test_a_sheet_of_a_horn_promised_on_another_familys_page_does_not_go_home(lending):
    other = make.pupil(lending.school, make.guardian(lending.school))
    make.signature(lending.horn, other, lending.teacher)

    with pytest.raises(Refused, match=other.name):
        send(lending)


def test_another_sheet_for_the_same_horn_and_pupil_takes_the_place_of_the_first(lending):
    first = send(lending)
    second = send(lending, at=make.NOW + DAY)

    first.refresh_from_db()
    assert first.put_away_at == make.NOW + DAY
    assert list(SheetOut.objects.out()) == [second]
    with pytest.raises(IntegrityError), transaction.atomic():
        make.sheet(lending.horn, lending.pupil, lending.teacher)


def test_sheets_of_one_horn_may_be_with_two_families(lending):
    send(lending)
    guardian = make.guardian(lending.school)
    send(lending, pupil=make.pupil(lending.school, guardian), guardian=guardian)

    assert SheetOut.objects.out().count() == 2
    assert len(owed(lending)) == 2


def test_a_sheet_is_put_away_when_the_horn_is_issued_on_it(lending):
    send(lending)
    lending.issue()

    assert SheetOut.objects.get().put_away_at == make.NOW
    assert owed(lending) == []


def test_a_class_issued_on_its_sheets_has_none_out(client, lending):
    send(lending)
    page = reverse("loans:batch", args=(lending.school.slug,))
    asked = {"pair": f"{lending.pupil.pk}.{lending.horn.pk}", "due_on": DUE.isoformat()}
    address = f"{page}?{client.get(page, asked).context['whole']}"

    client.post(address, {"signed": f"{lending.pupil.pk}.{lending.horn.pk}", "signed_on": make.TODAY.isoformat()})

    assert Loan.objects.get().pupil == lending.pupil
    assert not SheetOut.objects.not_put_away().exists()


def test_a_sheet_keeps_the_horn_from_nobody_and_issuing_to_another_says_so_and_puts_it_away(client, page, lending):
    send(lending)
    guardian = make.guardian(lending.school)
    other = make.pupil(lending.school, guardian)
    assert Horn.objects.get(pk=lending.horn.pk).kept_back == []
    assert lending.horn in Horn.objects.may_be_lent()

    asked = client.get(page, whole(lending, pupil=other.pk, guardian=guardian.pk))
    said = folded(asked)
    client.post(page + "?" + asked.context["whole"], {"signed": "on", "signed_on": make.TODAY.isoformat()})

    assert f"{lending.horn}: the sheet is with the family of {lending.pupil.name}." in said
    assert "It promises nothing: when" in said
    assert Loan.objects.get().pupil == other
    assert SheetOut.objects.get().put_away_at == make.NOW


def test_a_batch_says_who_else_has_a_sheet_of_the_horn(client, lending):
    send(lending)
    other = make.pupil(lending.school, make.guardian(lending.school))
    page = reverse("loans:batch", args=(lending.school.slug,))

    shown = folded(client.get(page, {"pair": f"{other.pk}.{lending.horn.pk}", "due_on": DUE.isoformat()}))

    assert f"{lending.horn}: the sheet is with the family of {lending.pupil.name} too;" in shown


def test_one_button_puts_a_sheet_away_and_leads_back(client, page, lending, away):
    one = send(lending)
    here = f"{page}?horn={lending.horn.pk}"
    assert f'name="sheet" value="{one.pk}"' in client.get(here).content.decode()

    answer = client.post(away, {"sheet": str(one.pk), "next": here})

    assert answer.url == here
    assert SheetOut.objects.get().put_away_at == make.NOW
    assert f"The sheet of {lending.horn} for {lending.pupil} is put away." in folded(client.get(here))
    assert owed(lending) == []


def test_the_button_stands_on_the_page_of_a_horn_that_cannot_be_lent_too(client, page, lending):
    one = send(lending)
    make.job(lending.horn, lending.teacher, state="away", repairer="Brass House")

    answer = client.get(page, whole(lending))

    assert answer.templates[0].name == "loans/issue_refused.html"
    assert f'name="sheet" value="{one.pk}"' in answer.content.decode()


def test_many_sheets_are_put_away_at_once_and_none_of_another_school(client, lending, elsewhere, away):
    guardian = make.guardian(lending.school)
    both = [send(lending), send(lending, pupil=make.pupil(lending.school, guardian), guardian=guardian)]
    theirs = make.sheet(elsewhere.horn, elsewhere.pupil, elsewhere.teacher)

    client.post(away, {"sheet": f"{both[0].pk} {theirs.pk} x {both[1].pk}"})
    today = client.get(reverse("desk:today", args=(lending.school.slug,)))

    assert "2 sheets are put away." in folded(today)
    assert list(SheetOut.objects.not_put_away()) == [theirs]


def test_the_buttons_address_only_opened_puts_nothing_away(client, lending, away):
    one = send(lending)
    assert client.get(away, {"sheet": one.pk}).status_code == 302
    assert SheetOut.objects.out().exists()


def test_what_is_put_away_twice_keeps_its_moment(lending):
    one = send(lending)
    put_away(school=lending.school, sheets=[one.pk], by=lending.teacher, at=make.NOW)

    assert put_away(school=lending.school, sheets=[one.pk], by=lending.teacher, at=make.NOW + DAY) == []
    assert SheetOut.objects.get().put_away_at == make.NOW
    act = Act.objects.get(deed=Deed.SHEETS_PUT_AWAY)
    assert (act.by, act.horn, act.pupil) == (lending.teacher, lending.horn, lending.pupil)
