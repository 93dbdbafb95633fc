"""A class of thirty in a real browser: horns proposed, all sheets printed, signatures ticked, issued in one click."""

from __future__ import annotations

import io
from typing import Any

import pytest
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.matching.models import ClassPlan
from fleet.register.models import Horn
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Class:
    """Thirty pupils with guardians, and thirty horns that may be lent, five of them compact as five pupils need."""

    def __init__(self, pupils: int = 30) -> None:
        self.school = make.school()
        self.teacher = make.staff(Role.TEACHER, self.school)
        self.place = make.place(self.school, room="Cupboard")
        self.pupils = [
            make.pupil(
                self.school,
                make.guardian(self.school, with_account=False),
                name=f"Pupil {n:02d}",
                group="Year horns",
                needs_wrap="compact" if n % 6 == 0 else "",
            )
            for n in range(pupils)
        ]
        self.horns = [
            make.horn(self.school, build="compact-f" if n % 6 == 5 else "single-f", place=self.place)
            for n in range(pupils)
        ]
        for horn in self.horns:
            make.check(horn, self.teacher)
        ClassPlan.objects.create(school=self.school, group="Year horns", stands_in="F", room="Cupboard")

    def at(self, address: str) -> str:
        return f"/s/{self.school.slug}/{address}"


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_class_of_thirty_is_issued_in_six_clicks_and_a_print(open_as, script):
    band = Class()
    page = open_as(band.teacher, width=390, script=script)

    page.goto(band.at("loans/"))
    page.get_by_role("link", name="Issue to a class").click()
    page.get_by_role("link", name="Propose horns for Year horns").click()
    page.wait_for_selector(".lead:has-text('30 of 30 get a horn')")
    page.get_by_role("link", name="Issue these 30").click()
    page.get_by_role("button", name="Look it over").click()
    with page.context.expect_event("response", lambda one: ".pdf" in one.url) as told:
        page.get_by_role("button", name="Print 30 sheets").click()
    printed = page.request.get(told.value.url)
    assert len(PdfReader(io.BytesIO(printed.body())).pages) == 30
    assert not Loan.objects.exists()
    page.get_by_role("button", name="Tick all").click()
    page.get_by_role("button", name="Issue to those ticked").click()
    page.wait_for_url("**/loans/")

    assert "30 horns are out until" in page.inner_text(".messages")
    lent = Loan.objects.select_related("pupil", "horn")
    assert {loan.pupil for loan in lent} == set(band.pupils)
    assert {loan.horn.build for loan in lent if loan.pupil.needs_wrap} == {"compact-f"}
    assert Horn.objects.filter(where="out").count() == 30


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_those_who_have_not_signed_wait_and_what_is_refused_stays_on_the_page(open_as, script):
    band = Class(6)
    alone = make.pupil(band.school, name="Zoe Alone", group="Year horns")
    make.check(make.horn(band.school, place=band.place), band.teacher)
    page = open_as(band.teacher, script=script)

    page.goto(band.at("matching/?class=Year+horns"))
    page.get_by_role("link", name="Issue these 7").click()
    page.get_by_label("And also").fill("mute")
    page.get_by_role("button", name="Look it over").click()
    page.wait_for_selector("main:has-text('Zoe Alone has no guardian on record')")
    page.get_by_label("Pupil 00").check()
    page.get_by_label("Pupil 01").check()
    taken = Horn.objects.get(pk=page.get_by_label("Pupil 01").get_attribute("value").split(".")[1])
    make.loan(taken, make.pupil(band.school, name="Quick One"), band.teacher)
    page.get_by_role("button", name="Issue to those ticked").click()
    page.wait_for_selector("text=Quick One has it")

    assert Loan.objects.get(pupil=band.pupils[0]).accessories.filter(name="mute").exists()
    assert not page.get_by_label("Pupil 00").count()
    assert page.get_by_label("Pupil 02").count() == 1
    page.get_by_role("link", name="Add a guardian").click()
    page.get_by_label("Name").fill("Somebody New")
    page.get_by_label("Telephone").fill("01 555 0100")
    page.get_by_role("button", name="Save").click()
    page.wait_for_selector("text=Somebody New signs")
    assert alone.guardians.get().name == "Somebody New"


def test_a_scanner_that_ends_each_number_with_enter_fills_one_line_after_the_other(open_as):
    band = Class(3)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/batch/?class=Year+horns"))

    for at, horn in enumerate(band.horns):
        assert page.evaluate("document.activeElement.name") == f"number-{band.pupils[at].pk}"
        page.keyboard.type(horn.number)
        page.keyboard.press("Enter")
        page.wait_for_selector(f".help:has-text('{horn.number}')")
    page.get_by_role("button", name="Go on").click()
    page.wait_for_selector("text=What goes along")

    assert page.locator('input[name="pair"]').count() == 3


def test_every_state_is_free_of_barriers_and_fits_a_narrow_phone(open_as: Any, axe: Any):
    band = Class(4)
    two = make.pupil(
        band.school, make.guardian(band.school), make.guardian(band.school), name="Two Signers", group="Year horns"
    )
    make.pupil(band.school, name="Nobody Signs", group="Year horns")
    broken = make.horn(band.school)
    make.finding(make.check(broken, band.teacher, grade=3))
    given = ((two, band.horns[0]), (band.pupils[1], band.horns[1]), (band.pupils[2], broken))
    pairs = "&".join(f"pair={pupil.pk}.{horn.pk}" for pupil, horn in given)
    fix = f"fix={band.pupils[0].pk}.{band.horns[0].pk}&leave={two.pk}&without={band.horns[2].pk}"
    pages = (
        "matching/",
        "matching/rules/",
        "matching/?class=Year+horns",
        f"matching/?class=Year+horns&{fix}&better=9&choose={band.pupils[1].pk}",
        "loans/batch/",
        f"loans/batch/?class=Year+horns&number-{two.pk}=nothing-like-it",
        f"loans/batch/?{pairs}",
        f"loans/batch/?{pairs}&due_on=2000-01-01",
        f"loans/batch/?{pairs}&due_on=2030-01-01&accessories=case",
    )
    page = open_as(band.teacher, width=320, height=640)
    wrong = []
    for address in pages:
        answer = page.goto(band.at(address))
        wrong += [f"{address}: answered {answer.status}"] if answer.status != 200 else []
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        wrong += [f"{address}: {finding}" for finding in axe(page)]
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > 320:
            wrong.append(f"{address}: {width} px wide")
    assert not wrong, "\n".join(wrong)
