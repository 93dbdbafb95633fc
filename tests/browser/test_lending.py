"""Lending in a real browser: from the horn's label to the signed sheet and back again, with script and without."""

from __future__ import annotations

from typing import Any

import pytest

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.register.models import Horn
from fleet.signing.models import SheetOut
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Case:
    """A school with a horn that may be lent, and a pupil with a guardian."""

    def __init__(self) -> None:
        self.school = make.school()
        self.teacher = make.staff(Role.TEACHER, self.school)
        self.guardian = make.guardian(self.school, name="Maria Okafor")
        self.pupil = make.pupil(self.school, self.guardian, name="Ada Okafor")
        make.pupil(self.school, name="Mia Berg")
        self.horn = make.horn(self.school)
        make.check(self.horn, self.teacher)

    @property
    def issue_page(self) -> str:
        return f"/s/{self.school.slug}/loans/issue/"


def choose_pupil(page: Any, script: bool) -> None:
    page.fill("#id_q", "okaf")
    if script:
        page.wait_for_selector("#found:not(:has-text('Mia Berg'))")
    else:
        page.get_by_role("button", name="Search").click()
    assert "Mia Berg" not in page.inner_text("#found")
    page.get_by_role("link", name="Ada Okafor").click()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_from_the_label_to_the_signed_sheet(open_as, script):
    case = Case()
    page = open_as(case.teacher, width=390, script=script)

    page.goto(f"/h/{case.horn.label_code}/")
    choose_pupil(page, script)
    page.get_by_label("rotor oil").check()
    page.get_by_label("And also").fill("mute")
    page.get_by_role("button", name="Look it over").click()
    with page.context.expect_event("response", lambda one: "sheet-to-sign.pdf" in one.url) as told:
        page.get_by_role("button", name="Print the sheet to sign").click()
    assert (told.value.status, told.value.headers["content-type"]) == (200, "application/pdf")
    assert SheetOut.objects.out().get().pupil == case.pupil
    assert not Loan.objects.exists()
    page.get_by_label("The guardian has signed").check()
    page.get_by_role("button", name="Issue").click()
    page.wait_for_url("**/loans/*/")

    loan = Loan.objects.get()
    assert f"/loans/{loan.pk}/" in page.url
    assert "is out with Ada Okafor until" in page.inner_text(".messages")
    assert [thing.name for thing in loan.accessories.all()] == ["mouthpiece", "case", "rotor oil", "mute"]
    assert not SheetOut.objects.out().exists()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_horn_that_comes_back_broken_goes_onto_the_bench_list(open_as, script):
    case = Case()
    loan = make.loan(case.horn, case.pupil, case.teacher)
    page = open_as(case.teacher, width=390, script=script)

    page.goto(f"/s/{case.school.slug}/loans/{loan.pk}/")
    page.get_by_role("link", name="Take it back").click()
    page.get_by_label("case", exact=True).uncheck()
    page.locator("summary", has_text="Strings and levers").click()
    page.get_by_label("string broken", exact=True).check()
    if script:
        page.wait_for_selector("#so-far:has-text('repair before the next loan')")
    page.get_by_label("light wear").check()
    page.get_by_role("button", name=f"Take {case.horn} back").click()
    page.wait_for_selector("text=did not come back")

    horn = Horn.objects.get(pk=case.horn.pk)
    assert (horn.holder_name, horn.grade) == ("", 3)
    assert horn.jobs.get(closed_at=None).findings.get().fault == "string-broken"
    assert "bench list" in page.inner_text(".messages")
    page.get_by_role("link", name="Record the mouthpiece cleaned").click()
    page.get_by_role("button", name="It is clean").click()
    page.wait_for_url(f"**/horns/{horn.pk}/")
    assert Loan.objects.get().mouthpiece_cleaned_by == case.teacher


def test_the_way_to_a_check_and_back_loses_nothing(open_as):
    case = Case()
    page = open_as(case.teacher)
    page.goto(f"{case.issue_page}?horn={case.horn.pk}&pupil={case.pupil.pk}")

    page.get_by_label("And also").fill("mute, spare string")
    page.get_by_role("button", name="Check it again now").click()
    page.get_by_label("light wear").check()
    page.get_by_role("button", name="Save the check").click()
    page.wait_for_url("**/loans/issue/**")

    assert page.get_by_label("And also").input_value() == "mute, spare string"
    assert case.horn.checks.count() == 2


def test_every_step_is_free_of_barriers_and_fits_a_narrow_phone(open_as, axe):
    case = Case()
    alone = make.pupil(case.school)
    broken = make.horn(case.school)
    make.check(broken, case.teacher, grade=3)
    base = f"{case.issue_page}?horn={case.horn.pk}"
    both = f"{base}&pupil={case.pupil.pk}"
    said = f"{both}&due_on=2099-01-01&guardian={case.guardian.pk}&accessories=case"
    pages = (
        case.issue_page,
        f"{case.issue_page}?q=nothing-like-it",
        base,
        both,
        f"{base}&pupil={alone.pk}",
        f"{said}&then=sign",
        said.replace("2099", "2030") + "&then=sign",
        f"{case.issue_page}?horn={broken.pk}",
        f"/s/{case.school.slug}/loans/?state=ended",
    )
    page = open_as(case.teacher, width=320, height=640)
    wrong = []
    for address in pages:
        page.goto(address)
        wrong += [f"{address}: {finding}" for finding in axe(page)]
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > 320:
            wrong.append(f"{address}: {width} px wide")
    assert not wrong, "\n".join(wrong)
