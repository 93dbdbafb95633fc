"""Whole journeys in a real browser, as each person would make them, by following what the pages show."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone

from fleet.desk.actions import demo
from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import School, User
from fleet.register.models import Horn, Identification
from fleet.workshop.models import FaultReport, RepairJob
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 390, "height": 844}
FULL_DOUBLE_IN_F = {
    "valves": "4",
    "slide_sets": "2",
    "test_note": "1",
    "test_note_thumb": "0",
    "hand": "left",
    "mechanism": "rotary",
    "bell": "back",
    "wrap": "standard",
    "second_set": "longer",
    "step_down": "3",
    "thumb": "raises",
    "shared_row": "one-side",
    "length": "38-42",
}


def sign_in_by_code(page: Any, email: str) -> None:
    """Asks for a code as a person does, and reads it from the letter."""
    before = len(mail.outbox)
    page.goto("/account/code/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_role("main").get_by_role("button").first.click()
    page.wait_for_url("**/account/code/confirm/**")
    [letter] = mail.outbox[before:]
    code = re.search(r"^ {4}(\S+)$", letter.body, re.M)
    assert code is not None, letter.body
    page.locator("input[name=code]").fill(code.group(1))
    page.locator("form:has(input[name=code]) button").first.click()
    page.wait_for_url(re.compile("/(s|family)/"))


def walk(page: Any, horn: dict[str, str]) -> None:
    """Answers every step the walk asks for, as somebody would who holds that horn, until the result stands there."""
    for _ in range(16):
        choices = page.locator(".choices button.choice")
        if choices.count() == 0:
            return
        key = choices.first.get_attribute("name")
        with page.expect_navigation():
            page.locator(f'.choices button[name={key}][value="{horn[key]}"]').click()
    raise AssertionError(f"the walk did not end: {page.url}")


def press(page: Any, name: str) -> None:
    """Follows the link or presses the button of the page that reads so, until the next page stands there.

    The check goes to the site by a script, which moves on when the answer is there: waiting for the page that is open
    already to be loaded would not do.
    """
    main = page.get_by_role("main")
    named = re.compile(name)
    with page.expect_navigation():
        main.get_by_role("link", name=named).or_(main.get_by_role("button", name=named)).first.click()


def test_from_an_empty_site_to_a_signed_sheet_on_a_phone(open_as):
    call_command("begin", school="Hill Road School", head="Ines Marchetti", email="ines@example.org", verbosity=0)
    page = open_as(None, **PHONE)
    sign_in_by_code(page, "ines@example.org")
    assert page.url.endswith("/s/hill-road-school/")

    press(page, "Identify the first horn")
    walk(page, FULL_DOUBLE_IN_F)
    assert "full double horn" in page.locator("h1").inner_text().lower()
    press(page, "As a new horn")
    page.get_by_label("Maker").fill("Halvard Brenn")
    press(page, "^Register it$")

    horn = Horn.objects.get()
    assert (horn.number, horn.build, horn.stands_in, horn.maker) == ("HN-0001", "double-full", "F", "Halvard Brenn")
    assert Identification.objects.get().observations["test_note"] == "1"
    assert page.url.endswith(f"/horns/{horn.pk}/")

    press(page, "Check its condition")
    page.get_by_label("light wear").check()
    press(page, "Save the check")

    page.goto("/s/hill-road-school/pupils/new/")
    page.get_by_label("name used in school", exact=False).fill("Ada Okafor")
    press(page, "^Save$")
    page.get_by_label("Name").fill("Maria Okafor")
    page.get_by_label("E-mail").fill("maria@example.org")
    press(page, "^Save$")

    page.goto(f"/s/hill-road-school/horns/{horn.pk}/")
    press(page, "^Issue it$")
    press(page, "Ada Okafor")
    press(page, "Look it over and print the sheet")
    with page.context.expect_event("response", lambda one: "sheet-to-sign.pdf" in one.url) as told:
        page.get_by_role("button", name=re.compile("Print the sheet to sign")).click()
    assert told.value.headers["content-type"] == "application/pdf"
    assert not Loan.objects.exists()
    page.get_by_role("checkbox").first.check()
    press(page, "^Issue HN-0001 to Ada Okafor$")

    loan = Loan.objects.get()
    assert (loan.pupil.name, loan.guardian.name, loan.signed_on) == ("Ada Okafor", "Maria Okafor", timezone.localdate())
    horn.refresh_from_db()
    assert (horn.where, horn.holder_name) == ("out", "Ada Okafor")


def test_an_e_flat_alto_horn_is_said_to_be_no_french_horn_and_registered_as_what_it_is(open_as):
    school = make.school()
    page = open_as(make.staff(Role.TEACHER, school), **PHONE)
    page.goto(f"/s/{school.slug}/identify/")

    walk(
        page,
        {
            "valves": "3",
            "slide_sets": "1",
            "test_note": "0",
            "hand": "right",
            "mechanism": "piston",
            "bell": "up",
            "wrap": "cant-tell",
            "step_down": "7",
        },
    )
    assert "This is no French horn" in page.get_by_role("main").inner_text()
    press(page, "As a new horn")
    press(page, "^Register it$")

    assert Horn.objects.get().build == "alto-horn-eb"


@pytest.fixture
def demo_school() -> School:
    return demo.load(at=timezone.now())


def test_from_a_familys_report_to_a_mended_horn(open_as, demo_school):
    family = open_as(None, **PHONE)
    sign_in_by_code(family, "guardian@demo.example")
    press(family, "Ben Okafor")
    family.get_by_label("What is wrong?").fill("The string of the second lever snapped.")
    family.get_by_label("No", exact=True).check()
    press(family, "Tell the school")
    assert "will answer here" in family.get_by_role("main").inner_text()

    teacher = open_as(User.objects.get(email="teacher@demo.example"))
    teacher.goto("/s/alder-row/")
    press(teacher, "The string of the second lever snapped")
    teacher.get_by_label(re.compile("answer", re.I)).first.fill("Please bring it on Monday.")
    press(teacher, "Put it on the bench list")
    report = FaultReport.objects.get(words__startswith="The string of the second")
    job = RepairJob.objects.get(fault_reports=report)

    family.reload()
    assert "Please bring it on Monday." in family.get_by_role("main").inner_text()

    teacher.goto(f"/s/alder-row/loans/{Loan.objects.get(horn=job.horn, returned_on=None).pk}/return/")
    teacher.locator("summary", has_text="Strings and levers").click()
    teacher.locator("label.choice", has=teacher.get_by_text("string broken", exact=True)).click()
    teacher.get_by_label(re.compile("Mouthpiece cleaned", re.I)).fill(timezone.localdate().isoformat())
    press(teacher, "^Take HN-0003 back$")
    job.horn.refresh_from_db()
    assert (job.horn.where, job.horn.grade) == ("cupboard", 3)

    technician = open_as(User.objects.get(email="technician@demo.example"))
    technician.goto("/s/alder-row/bench/")
    technician.get_by_role("link", name=re.compile("HN-0003")).first.click()
    technician.wait_for_url(re.compile(f"/jobs/{job.pk}/"))
    technician.get_by_label("State").select_option("bench")
    press(technician, "Save the job")
    job.horn.refresh_from_db()
    assert job.horn.where == "workshop"
    technician.get_by_label("State").select_option("done")
    technician.get_by_label("Minutes").fill("15")
    press(technician, "Save the job")
    assert "/check/" in technician.url
    press(technician, "Save the check")
    technician.wait_for_url(lambda url: "/check/" not in url)

    job.refresh_from_db()
    job.horn.refresh_from_db()
    assert (job.state, job.minutes, job.horn.where, job.horn.grade) == ("done", 15, "cupboard", 1)

    teacher.goto(f"/s/alder-row/horns/{job.horn.pk}/")
    assert teacher.get_by_role("link", name="Issue it").count() == 1


def test_a_return_with_damage_compares_with_the_issue_and_makes_a_repair_job(open_as, demo_school):
    horn = Horn.objects.get(serial_number="7713")
    teacher = open_as(User.objects.get(email="teacher@demo.example"))
    teacher.goto("/s/alder-row/")
    press(teacher, f"{horn.number}: take back from Elsa Lindgren")
    text = teacher.get_by_role("main").inner_text()
    assert "At issue" in text
    assert "plays well" in text

    teacher.locator("summary", has_text="Bell").click()
    teacher.locator("label.choice", has=teacher.get_by_text("bell torn", exact=True)).click()
    teacher.get_by_label("slide grease").uncheck()
    press(teacher, f"^Take {horn.number} back$")

    horn.refresh_from_db()
    loan = horn.loans.get()
    assert (horn.where, horn.grade, loan.mouthpiece_cleaned_on) == ("cupboard", 4, None)
    assert loan.accessories.get(name="slide grease").came_back is False
    assert [one.fault for one in RepairJob.objects.open().get(horn=horn).findings.all()] == ["bell-torn"]

    teacher.goto(f"/s/alder-row/loans/issue/?horn={horn.pk}")
    assert "must not be played" in teacher.get_by_role("main").inner_text()


def test_every_act_of_lending_works_without_script(open_as, demo_school):
    horn = Horn.objects.get(serial_number="20688")
    page = open_as(User.objects.get(email="teacher@demo.example"), **PHONE, script=False)
    page.goto(f"/h/{horn.label_code}/")

    page.get_by_label(re.compile("Name, class")).fill("cormac")
    press(page, "^Search$")
    press(page, "Cormac Fahey")
    press(page, "Look it over and print the sheet")
    page.get_by_role("checkbox").first.check()
    press(page, "^Issue HN-0002 to Cormac Fahey$")

    assert Loan.objects.get(horn=horn, returned_on=None).pupil.name == "Cormac Fahey"
