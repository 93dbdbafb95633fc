"""The lists answer while somebody types, without leaving the page, and without script once it is sent."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from fleet.ground.access import Role
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LISTS = {"horns/": "horn", "pupils/": "pupil", "loans/": "loan", "loans/letters/": "letter"}


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        head = make.staff(Role.HEAD, school)
        home = f"/s/{school.slug}/"

        def __init__(self) -> None:
            for number, name in (("HN-1", "Ömer Aydın"), ("HN-2", "Zeynep Kaya")):
                pupil = make.pupil(self.school, make.guardian(self.school), name=name, group="5b")
                make.letter(make.loan(make.horn(self.school, number=number), pupil, self.head))

        def open(self, name: str, **how: Any) -> Any:
            page = open_as(self.head, **how)
            page.goto(self.home + name)
            return page

    return World()


def rows(page: Any) -> Any:
    return page.locator("table tbody tr")


@pytest.mark.parametrize("name", LISTS)
def test_a_list_answers_while_somebody_types(world, name):
    page = world.open(name)
    expect(rows(page)).to_have_count(2)
    search = page.get_by_role("searchbox")
    page.evaluate("window.stayed = true")

    search.press_sequentially("ömer")

    expect(rows(page)).to_have_count(1)
    expect(page.locator("#found")).to_contain_text("HN-1")
    expect(page.locator("#said")).to_contain_text(f"1 {LISTS[name]}")
    expect(search).to_be_focused()
    assert page.evaluate("window.stayed")

    search.fill("nobody")
    expect(rows(page)).to_have_count(0)
    search.fill("")
    expect(rows(page)).to_have_count(2)


@pytest.mark.parametrize("name", LISTS)
def test_what_was_typed_stands_in_the_address_and_outlives_going_on_and_back(world, name):
    page = world.open(name)
    page.get_by_role("searchbox").press_sequentially("zeynep")
    page.wait_for_url("**?*q=zeynep*")
    expect(rows(page)).to_have_count(1)

    page.goto(world.home)
    page.go_back()

    expect(page.get_by_role("searchbox")).to_have_value("zeynep")
    expect(rows(page)).to_have_count(1)


def test_all_that_stands_around_a_list_follows_what_was_typed(world):
    page = world.open("horns/")
    page.get_by_role("searchbox").press_sequentially("hn1")
    page.wait_for_url("**?*q=hn1*")
    expect(rows(page)).to_have_count(1)

    with page.expect_navigation():
        page.get_by_role("link", name="overdue").click()
    expect(page.get_by_role("searchbox")).to_have_value("hn1")
    page.go_back()
    assert page.locator("#several input[name=next]").get_attribute("value").startswith(f"{world.home}horns/?q=hn1")


def test_without_script_a_list_is_searched_once_it_is_sent(world):
    page = world.open("pupils/", script=False)
    page.get_by_role("searchbox").fill("ömer")
    page.get_by_role("searchbox").press("Enter")

    expect(rows(page)).to_have_count(1)
