"""A scanner that types number after number without a pause, at a site that answers slowly, in a real browser."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from fleet.counting.actions import counts
from fleet.counting.models import Sighting
from fleet.lending.models import Loan
from tests import make
from tests.browser.conftest import KEPT, OUTBOX, outbox_comes_to, slowed
from tests.browser.test_class_of_thirty import Class

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TEN = 10


class Slow:
    """Holds every answer of the pages whose address matches until `go` is called."""

    def __init__(self, page, address):
        self.page, self.held, self.open = page, [], False
        page.route(address, self._take)

    def _take(self, route):
        if self.open:
            route.continue_()
        else:
            self.held.append(route)

    def go(self):
        self.open = True
        for route in self.held:
            route.continue_()


def scan(page, numbers):
    """As a scanner does: every number and Enter, with nothing in between, once there is a field to type into."""
    expect(page.locator("input:focus")).to_have_count(1)
    for number in numbers:
        page.keyboard.type(number)
        page.keyboard.press("Enter")


def lent(band):
    for pupil, horn in zip(band.pupils, band.horns, strict=True):
        make.loan(horn, pupil, band.teacher)
    return [horn.number for horn in band.horns]


def listed(page):
    return [words.split()[0] for words in page.locator("#listed .tasks b").all_inner_texts()]


def test_ten_horns_scanned_without_a_pause_are_all_on_the_list_of_returns_in_their_order(open_as):
    band = Class(TEN)
    numbers = lent(band)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/back/"))
    slow = Slow(page, "**/loans/back/")

    scan(page, numbers[:-1])
    # The site has not answered at all yet, and the last number is only half typed.
    page.keyboard.type(numbers[-1][:2])
    assert page.input_value("#id_numbers") == numbers[-1][:2]
    expect(page.locator("#said")).to_have_text(f"{TEN - 1} numbers are on their way.")
    slow.go()
    expect(page.locator("#listed h2")).to_have_text(f"{TEN - 1} on the list")
    assert page.input_value("#id_numbers") == numbers[-1][:2]
    scan(page, [numbers[-1][2:]])
    expect(page.locator("#listed h2")).to_have_text(f"{TEN} on the list")

    assert listed(page) == numbers
    page.get_by_label("I looked each one over").check()
    page.get_by_role("button", name=f"Take all {TEN} back").click()
    page.wait_for_url("**/loans/")
    assert not Loan.objects.open().exists()


def test_a_number_that_no_horn_has_is_told_of_while_the_others_go_on(open_as):
    band = Class(3)
    numbers = lent(band)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/back/"))

    scan(page, [numbers[0], "nothing-like-it", numbers[1], numbers[2]])

    expect(page.locator("#listed h2")).to_have_text("3 on the list")
    expect(page.locator(".messages")).to_contain_text("No horn has the number or label “nothing-like-it”.")
    assert listed(page) == numbers


def test_numbers_scanned_without_a_connection_are_kept_over_a_reload_and_nothing_is_taken_unseen(open_as):
    band = Class(3)
    numbers = lent(band)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/back/"))
    scan(page, numbers[:1])
    expect(page.locator("#listed h2")).to_have_text("1 on the list")

    page.context.set_offline(True)
    scan(page, numbers[1:])
    expect(page.locator("#said")).to_contain_text(f"2 numbers are not sent yet. {KEPT}")
    page.get_by_label("I looked each one over").check()
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#said")).to_contain_text("No connection")
    page.context.set_offline(False)
    page.reload()

    # What the page sent while it was being left may stand at the site and not yet on the page drawn meanwhile.
    outbox_comes_to(page, "(all) => all.length === 0")
    page.reload()
    expect(page.locator("#listed h2")).to_have_text("3 on the list")
    assert listed(page) == numbers
    assert Loan.objects.open().count() == 3


def test_numbers_scanned_without_a_connection_are_kept_when_the_tab_is_closed_and_go_when_one_stops(open_as):
    band = Class(2)
    numbers = lent(band)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/back/"))
    page.context.set_offline(True)
    scan(page, numbers)
    expect(page.locator("#said")).to_contain_text(f"2 numbers are not sent yet. {KEPT}")
    other = slowed(page.context.new_page())
    page.close()
    other.context.set_offline(False)

    other.goto(band.at("loans/back/"))
    expect(other.locator("#listed h2")).to_have_text("2 on the list")
    assert listed(other) == numbers
    other.context.set_offline(True)
    other.focus("#id_numbers")
    scan(other, ["HN-9"])
    expect(other.locator("#said")).to_contain_text(f"1 number is not sent yet. {KEPT}")
    other.context.set_offline(False)
    with other.expect_navigation(url="**/loans/"):
        other.get_by_role("button", name="Stop").click()
    assert other.evaluate(OUTBOX) == []


def test_numbers_scanned_for_a_class_without_a_connection_are_kept_when_the_page_is_left(open_as):
    band = Class(3)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/batch/?class=Year+horns"))
    page.context.set_offline(True)
    scan(page, [horn.number for horn in band.horns])
    expect(page.locator("#said")).to_contain_text(KEPT)
    outbox_comes_to(page, "(all, count) => all.length === count", len(band.horns))
    page.goto("about:blank")
    page.context.set_offline(False)

    page.goto(band.at("loans/batch/?class=Year+horns"))
    for horn in band.horns:
        expect(page.locator(".help", has_text=horn.number)).to_have_count(1)
    outbox_comes_to(page, "(all) => !all.length")

    assert [page.input_value(f"#id_number-{one.pk}") for one in band.pupils] == [horn.number for horn in band.horns]


def test_taking_back_waits_for_the_numbers_on_their_way_and_asks_to_look_again(open_as):
    band = Class(2)
    numbers = lent(band)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/back/"))
    scan(page, numbers[:1])
    expect(page.locator("#listed h2")).to_have_text("1 on the list")
    slow = Slow(page, "**/loans/back/")

    scan(page, numbers[1:])
    page.get_by_label("I looked each one over").check()
    page.get_by_role("button", name="Take it back").click()
    slow.go()

    expect(page.locator("#said")).to_have_text("The list has grown. Look at it, then press again.")
    expect(page.locator("#listed h2")).to_have_text("2 on the list")
    assert Loan.objects.open().count() == 2


def test_ten_horns_scanned_for_a_class_without_a_pause_each_go_to_their_pupil(open_as):
    band = Class(TEN)
    page = open_as(band.teacher, width=390)
    page.goto(band.at("loans/batch/?class=Year+horns"))
    slow = Slow(page, "**/loans/batch/?**")

    scan(page, [horn.number for horn in band.horns])
    expect(page.locator("#said")).to_have_text("Every pupil has a number. Press “Go on”.")
    slow.go()
    for horn in band.horns:
        expect(page.locator(".help", has_text=horn.number)).to_have_count(1)
    page.get_by_role("button", name="Go on").click()
    page.wait_for_selector("text=What goes along")

    asked = {one.get_attribute("value") for one in page.locator('input[name="pair"]').all()}
    assert asked == {f"{pupil.pk}.{horn.pk}" for pupil, horn in zip(band.pupils, band.horns, strict=True)}


# The browser's own database opens only once `letIn` is called.
SLOW_TO_OPEN = """
  const open = indexedDB.open.bind(indexedDB);
  indexedDB.open = (...what) => {
    const real = open(...what);
    const late = { get result() { return real.result; }, get transaction() { return real.transaction; } };
    real.onupgradeneeded = (event) => late.onupgradeneeded(event);
    const opened = new Promise((done) => { real.onsuccess = done; });
    Promise.all([opened, new Promise((done) => { window.letIn = done; })]).then(() => late.onsuccess());
    return late;
  };
"""


def test_numbers_scanned_before_the_browsers_database_has_opened_stay_where_they_were_typed(open_as):
    band = Class(3)
    page = open_as(band.teacher, width=390)
    page.add_init_script(SLOW_TO_OPEN)
    page.goto(band.at("loans/batch/?class=Year+horns"))
    fields = [page.locator(f"#id_number-{one.pk}") for one in band.pupils]

    scan(page, [horn.number for horn in band.horns[:2]])
    page.keyboard.type(band.horns[2].number)
    page.evaluate("letIn()")
    expect(page.locator(".help", has_text=band.horns[0].number)).to_have_count(1)

    assert [field.input_value() for field in fields] == [horn.number for horn in band.horns]


def test_ten_horns_scanned_at_a_shelf_without_a_pause_are_all_seen(open_as):
    band = Class(TEN)
    count = counts.begin(school=band.school, places=[], by=band.teacher, at=make.NOW)
    page = open_as(band.teacher, width=390)
    page.goto(band.at(f"counts/{count.pk}/shelf/?place={band.place.pk}"))
    slow = Slow(page, "**/sent/**")

    page.focus("#number")
    scan(page, [horn.number for horn in band.horns])
    expect(page.locator("#kept-number")).to_have_text(str(TEN))
    slow.go()
    expect(page.locator("#kept")).to_be_hidden()

    assert set(Sighting.objects.values_list("line__horn", flat=True)) == {horn.pk for horn in band.horns}
