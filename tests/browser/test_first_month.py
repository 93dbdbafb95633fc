"""The two long ways through a school year in a real browser, by what the pages offer, each tap counted."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from fleet.counting.models import Count
from fleet.ground.access import Role
from fleet.lending.models import Ended, Loan
from fleet.people.models import Guardian, Pupil
from fleet.register.models import Horn, Place
from tests import make
from tests.exchange.conftest import as_xlsx

pytestmark = [pytest.mark.browser, pytest.mark.journey, pytest.mark.django_db(transaction=True)]


class Taps:
    """Somebody at the pages. Each click, box, choice of a file and field typed into is one tap."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.main = page.get_by_role("main")
        self.made: list[str] = []

    def _tap(self, what: str) -> None:
        self.made.append(what)

    def go(self, name: str) -> None:
        """Follows the link or presses the button that reads so, until the next page stands there."""
        self._tap(name)
        found = self.main.get_by_role("link", name=name).or_(self.main.get_by_role("button", name=name))
        with self.page.expect_navigation():
            found.first.click()

    def press(self, name: str) -> None:
        """A button after which the same page goes on."""
        self._tap(name)
        self.main.get_by_role("button", name=name).first.click()

    def tick(self, label: str) -> None:
        self._tap(label)
        self.main.get_by_label(label).first.check()

    def fill(self, label: str, words: str) -> None:
        self._tap(label)
        self.main.get_by_label(label).first.fill(words)

    def file(self, name: str, words: bytes) -> None:
        self._tap(name)
        self.page.set_input_files("input[type=file]", {"name": name, "mimeType": "", "buffer": words})

    def print(self, name: str) -> None:
        """A link or button whose answer is a PDF, and back from it."""
        self._tap(name)
        self._tap("Back")
        there = self.page.url
        found = self.main.get_by_role("link", name=name).or_(self.main.get_by_role("button", name=name))
        with self.page.context.expect_event("response", lambda one: ".pdf" in one.url) as told:
            found.first.click()
        assert told.value.status == 200
        self.page.goto(there)

    def turn_to(self, name: str) -> None:
        """A page of the masthead."""
        self._tap(name)
        with self.page.expect_navigation():
            self.page.get_by_role("navigation").get_by_role("link", name=name).first.click()

    def sees(self, words: str) -> None:
        self.page.wait_for_selector(f"main:has-text('{words}')")


def messy_list() -> bytes:
    """40 horns as a school has them in a workbook, 31 of them with somebody, with a heading and a sum around them."""
    today = timezone.localdate()
    heads = ["No", "Instrument", "Maker", "Bought", "Value", "Room", "Lent to", "Class", "Parent", "E-mail", "Due back"]
    rows: list[list[Any]] = [["Horns of the wind band, as of March"], [], [*heads]]
    for n in range(1, 41):
        kind = ("double horn", "single horn in F", "compact horn in F")[n % 3]
        bought = ("2017", "Sept. 2018", "3.9.2019", "a long time ago")[n % 4]
        value = "ca. 500" if n == 7 else 400 + n
        room = "Instrument room, top" if n == 9 else "Instrument room top"
        pupil: list[Any] = [None] * 5
        if n <= 31:
            group = "Wind clas 5b" if n == 12 else f"Wind class 5{'ab'[n % 2]}"
            due = today + timedelta(days=120)
            pupil = [f"Pupil Number{n:02d}", group, f"Parent Number{n:02d}", f"p{n}@example.org", due]
        rows.append([f"H-{n}", kind, "Weir & Anstey", bought, value, room, *pupil])
    rows.append(["Total", "40 horns", "", "", "", "", "31", "", "", "", ""])
    return as_xlsx(rows)


def test_a_school_that_starts_in_march_is_ready_to_work_in_under_forty_taps(open_as: Any):
    school = make.school()
    page = open_as(make.staff(Role.HEAD, school), width=1280)
    page.goto(f"/s/{school.slug}/")
    by = Taps(page)
    messy = messy_list()

    by.go("Bring in your list")
    for kind in ("Horns", "Pupils and their guardians", "Running loans"):
        if kind != "Horns":
            by.go("Bring in another list")
            by.tick(kind)
        by.file("horns.xlsx", messy)
        by.go("Read the file")
        by.go("Look it over")
        by.sees("refused.")
        if kind != "Running loans":
            by.sees("Is it one that you have?")
            by.tick("the same as")
            by.go("Go on")
            by.sees("refused.")
        by.press("Write")
        by.sees("On record")
    by.turn_to("Settings")
    by.go("School year")
    by.fill("The school year ends on", f"{timezone.localdate() + timedelta(days=130)}")
    by.press("Save")
    by.turn_to("Prints")
    by.print("All that are out")
    by.turn_to("Today")
    by.sees("H-1, Pupil Number01: have the sheet signed")

    assert len(by.made) < 40, by.made
    horns = Horn.objects.at(school)
    assert (horns.count(), horns.exclude(acquired_on=None).count(), horns.filter(value=None).get().number) == (
        40, 30, "H-7",
    )  # fmt: skip
    assert {str(place) for place in Place.objects.all()} == {"Instrument room top"}
    assert {*Pupil.objects.values_list("group", flat=True)} == {"Wind class 5a", "Wind class 5b"}
    assert (Pupil.objects.count(), Guardian.objects.count()) == (31, 31)
    assert Loan.objects.at(school).open().filter(signed_on=None).count() == 31


def test_a_school_year_ends_and_the_next_begins_in_under_forty_taps(open_as: Any):
    school = make.school(year_ends=timezone.localdate() + timedelta(days=4))
    head = make.staff(Role.HEAD, school)
    place = make.place(school, room="Cupboard")
    today = timezone.localdate()
    for n in range(1, 7):
        answers = make.guardian(school, with_account=False, email="", telephone=f"01 555 01{n}")
        pupil = make.pupil(school, answers, name=f"Pupil {n}", group="5a")
        horn = make.horn(school, number=f"H-{n}", place=place)
        make.check(horn, head)
        make.loan(horn, pupil, head, due_on=today - timedelta(days=3), issued_on=today - timedelta(days=200))
    page = open_as(head, width=1280)
    page.goto(f"/s/{school.slug}/")
    by = Taps(page)

    by.turn_to("Prints")
    by.print("Letters that are due")
    by.turn_to("Loans")
    by.go("Take several back")
    by.fill("Register number or label", "H-1, H-2, H-3")
    by.press("Put it on the list")
    by.sees("3 on the list")
    by.tick("I looked each one over")
    by.tick("Their mouthpieces are cleaned")
    by.go("Take all 3 back")
    by.turn_to("Loans")
    by.go("Pupil 4")
    by.go("It is lost")
    by.fill("What happened", "Left on a ferry.")
    by.go("Record it as lost")
    by.turn_to("Loans")
    by.go("Pupil 5")
    by.go("Renew it")
    by.fill("Due back on", f"{today + timedelta(days=3)}")
    by.go("Renew it")
    by.turn_to("Settings")
    by.go("School year")
    by.go("Begin the next school year")
    by.go("Look it over")
    by.go("Begin the school year: this cannot be undone")
    by.turn_to("Count")
    by.go("Begin a count")
    by.go("Begin")
    by.go("Cupboard")
    for horn in ("H-1", "H-2", "H-3"):
        by.made.append(f"Seen here: {horn}")
        page.locator(f"li[data-number='{horn}'] button.tap").click()
        page.wait_for_selector(f"li[data-number='{horn}'].seen")
    by.go("Other places")
    by.go("End the counting")
    by.go("End it and see the differences")

    assert len(by.made) < 40, by.made
    loans = {loan.horn.number: loan for loan in Loan.objects.at(school).select_related("horn", "pupil")}
    assert {number: loan.ended_as for number, loan in loans.items()} == {
        **dict.fromkeys(("H-1", "H-2", "H-3"), Ended.CAME_BACK), "H-4": Ended.LOST, "H-5": None, "H-6": None,
    }  # fmt: skip
    assert {loan.pupil.group for loan in loans.values()} == {"6a"}
    assert all(loans[number].due_on > today + timedelta(days=300) for number in ("H-5", "H-6"))
    assert [period.kind for period in loans["H-5"].periods.all()] == ["renewed", "renewed"]
    assert {line.horn.number: line.outcome for line in Count.objects.get().lines.all()} == {
        **dict.fromkeys(("H-1", "H-2", "H-3"), "seen"), **dict.fromkeys(("H-4", "H-5", "H-6"), "away"),
    }  # fmt: skip
