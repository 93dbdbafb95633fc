"""The everyday acts by keyboard alone, with and without JavaScript: Tab, Space, arrows and Enter, focus always seen."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from tests import make
from tests.exchange.conftest import as_xlsx

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FOCUSED = """() => {
    const at = document.activeElement;
    const look = getComputedStyle(at);
    const said = at.labels && at.labels[0] ? at.labels[0].innerText : at.innerText || "";
    const seen = look.outlineStyle !== "none" && at.getBoundingClientRect().width > 0;
    return [at.name || "", said.trim().replace(/\\s+/g, " "), seen];
}"""
MOST_TABS = 150


class Keys:
    def __init__(self, page: Any, *, scripts: bool) -> None:
        self.page, self.scripts = page, scripts

    def to(self, *, name: str = "", words: str = "") -> None:
        """Tab on to the field of that name, or to the link or button whose words begin so."""
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            field, said, seen = self.page.evaluate(FOCUSED)
            if (name and field == name) or (words and said.startswith(words)):
                assert seen, f"The focus on {name or words} is not seen."
                return
        raise AssertionError(f"No Tab leads to {name or words}.")

    def enter(self, words: str) -> None:
        self.to(words=words)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def tick(self, name: str) -> None:
        self.to(name=name)
        self.page.keyboard.press("Space")

    def sees(self, words: str) -> None:
        self.page.wait_for_selector(f"main:has-text('{words}')")

    def goes_on(self, words: str) -> None:
        """A long act goes on by itself, and without scripts by a button."""
        self.sees("Go on" if not self.scripts else words)
        if not self.scripts:
            self.enter("Go on")
        self.sees(words)


@pytest.fixture(params=[True, False], ids=["scripts", "no scripts"])
def desk(request, open_as):
    school = make.school(year_ends=timezone.localdate() + timedelta(days=40))
    head = make.staff(Role.HEAD, school)
    first, second = make.place(school, room="Cupboard"), make.place(school, room="Hall")
    horn = make.horn(school, number="H-1", place=first)
    make.check(horn, head)
    make.pupil(school, make.guardian(school, with_account=False), name="Ada Quill", group="5a")
    page = open_as(head, width=1280, script=request.param)
    page.goto(f"/s/{school.slug}/")
    return Keys(page, scripts=request.param), school, second


def test_a_horn_is_issued_renewed_taken_back_checked_moved_and_the_move_undone(desk):
    by, _, hall = desk
    by.enter("Issue a horn")
    by.enter("H-1")
    by.enter("Ada Quill")
    by.enter("Look it over")
    by.tick("signed")
    by.enter("Issue H-1 to Ada Quill")
    by.sees("H-1 is out with Ada Quill")
    loan = Loan.objects.get()
    by.enter("Renew it")
    by.enter("Renew it")
    by.sees("is due back on")
    by.enter("Take it back")
    by.enter("Take H-1 back")
    by.sees("H-1 is back from Ada Quill")
    by.enter("H-1")
    by.enter("Check its condition")
    by.enter("All fine as before")
    by.sees("H-1 is checked")
    by.enter("Horns")
    by.tick("horn")
    by.enter("Move place")
    by.to(name="place")
    by.page.keyboard.press("End")
    by.enter("Move them")
    assert Horn.objects.get().place == hall
    by.enter("Undo")
    by.sees("Undone")

    loan.refresh_from_db()
    assert (loan.returned_on, loan.periods.count()) == (timezone.localdate(), 1)
    assert (Horn.objects.get().place.room, loan.horn.checks.count()) == ("Cupboard", 3)


def test_a_list_is_brought_in_and_a_school_year_begins(desk):
    by, school, _ = desk
    by.page.goto(f"/s/{school.slug}/exchange/")
    by.to(name="kind")
    by.page.keyboard.press("ArrowDown")
    # Which file it is, is asked by the computer's own window.
    by.page.set_input_files("input[type=file]", {"name": "a.xlsx", "mimeType": "", "buffer": as_xlsx([
        ["Name", "Class", "Parent", "E-mail"], ["Ben Low", "5a", "Cy Low", "cy@example.org"],
    ])})  # fmt: skip
    by.enter("Read the file")
    by.enter("Look it over")
    by.goes_on("1 new")
    by.to(words="Write")
    by.page.keyboard.press("Enter")
    by.sees("On record")
    by.page.goto(f"/s/{school.slug}/settings/year/")
    by.enter("Begin the next school year")
    by.enter("Look it over")
    by.enter("Begin the school year")
    by.sees("The new school year has begun")

    assert {*Pupil.objects.values_list("name", "group")} == {("Ada Quill", "6a"), ("Ben Low", "6a")}
    assert School.objects.get().year_ends > timezone.localdate() + timedelta(days=300)
