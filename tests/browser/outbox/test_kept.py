"""The outbox by itself: what is kept, for whom and how long."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from playwright.sync_api import expect

from fleet.counting.actions import counts
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.people.models import User
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.conftest import slowed
from tests.browser.outbox.letterbox import add, holds, sent_in_vain, told, try_again

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def sign_in_on(page: Any, user: User, address: str) -> None:
    browser = Client()
    browser.force_login(user)
    cookie = browser.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": address}])


def test_what_is_kept_outlives_the_tab(world):
    page = world.begin()
    sent_in_vain(world, page, "one", "two")
    other = slowed(page.context.new_page())
    page.close()
    world.box.open()

    world.begin(other)
    other.evaluate("line.send()")
    told(other, "sent", "two")

    assert world.box.letters == [["one"], ["two"]]


def test_an_old_token_is_renewed_for_the_same_person(world):
    page = world.begin()
    page.evaluate("document.getElementsByName('csrfmiddlewaretoken').forEach((one) => { one.value = 'old'; })")
    tokens = []

    def take_new(letter: Any) -> dict[str, Any]:
        tokens.append(letter.headers["x-csrftoken"])
        return {"status": 403, "body": ""} if tokens == ["old"] else {"status": 201, "json": {}}

    world.box.answer = take_new
    add(page, "one", "two")
    told(page, "sent", "two")

    assert world.box.letters == [["one"], ["one"], ["two"]]
    assert len(tokens[1]) == 64
    assert tokens[1] == tokens[2]


@pytest.mark.parametrize("answer", [{"status": 403, "body": ""}, {"status": 302, "headers": {"Location": "/"}}])
def test_nothing_is_sent_for_or_shown_to_somebody_else_who_signed_in(world, answer, live_server):
    page = world.begin()
    una = make.staff(Role.TEACHER, world.school)
    sign_in_on(page, una, live_server.url)
    world.box.answer = lambda _letter: answer
    add(page, "one")

    told(page, "another", None)
    expect(page.locator("h1")).to_have_text(
        "Somebody else is signed in on this device: it is sent once you sign in again. "
        "Until then it is kept in this browser."
    )
    world.box.open()
    world.begin()
    add(page, "of una")
    told(page, "sent", "of una")
    assert page.evaluate("line.entries()") == []
    assert world.box.letters == [["one"], ["of una"]]

    sign_in_on(page, world.tom, live_server.url)
    world.begin()
    page.evaluate("line.send()")
    told(page, "sent", "one")


def test_somebody_signed_out_is_led_to_sign_in_and_back(world):
    page = world.begin()
    Session.objects.all().delete()
    world.box.answer = lambda _letter: {"status": 302, "headers": {"Location": "/account/sign-in/"}}
    add(page, "one")

    page.wait_for_selector("h1:has-text('You were signed out. Until then it is kept in this browser.')")
    link = page.get_by_role("link", name="Sign in to send it").get_attribute("href")
    assert "sign-in" in link
    assert link.endswith(f"next={world.home}")
    holds(page, "one")


def test_a_draft_is_not_sent_and_goes_when_its_day_is_over(world):
    page = world.begin()
    add(page, "begun", state="draft", until=page.evaluate("Date.now() + 3600000"))
    add(page, "over", state="draft", until=page.evaluate("Date.now() - 1"))
    add(page, "sent")
    told(page, "sent", "sent")

    holds(page, "begun", state="draft")
    assert world.box.letters == [["sent"]]


def test_put_again_under_its_key_an_entry_is_replaced(world):
    page = world.begin()
    world.box.lose()
    add(page, "first", key="one")
    add(page, "second", key="one")

    holds(page, "second")


def test_a_browser_that_keeps_nothing_sends_all_the_same_and_says_so(world):
    page = world.page
    page.add_init_script("indexedDB.open = () => { throw new Error('a private window'); };")
    page.clock.resume()
    world.begin()
    world.box.lose()
    add(page, "one", "two")
    expect(page.locator("h1")).to_have_text(
        "No connection: it is sent as soon as there is one. Until then it is kept only while this page is open."
    )

    world.box.open()
    try_again(page)
    told(page, "sent", "two")
    assert world.box.letters[-2:] == [["one"], ["two"]]


def test_how_long_something_waited_is_told_by_the_devices_own_clock_and_never_less_than_none(world):
    page = world.begin()

    waited = page.evaluate("[-90000, 90000].map((ms) => outbox.waited({ at: Date.now() + ms }))")

    assert 90 <= waited[0] < 120
    assert waited[1] == 0


def test_checks_kept_before_there_was_one_outbox_are_sent(world):
    horn = make.horn(world.school)
    page = world.page
    page.goto(f"{world.home}horns/")
    address = f"{world.home}horns/{horn.pk}/check/"
    page.evaluate(
        """([by, path]) => new Promise((done) => {
            const id = "11111111-1111-4111-8111-111111111111";
            const opening = indexedDB.open("horn-cupboard", 1);
            opening.onupgradeneeded = () => opening.result.createObjectStore("checks", { keyPath: "key" });
            opening.onsuccess = () => {
                const change = opening.result.transaction("checks", "readwrite");
                const fields = [["sent_as", id], ["occasion", "other"], ["finish_grade", "2"],
                    ["found-string-broken", "on"], ["note-string-broken", "third valve"]];
                const old = { by, path, seen: "", at: Date.now(), tap: false, files: [], fields };
                const saved = { ...old, name: "Check of HN-1", key: `${by} ${path} ${id}`, waiting: true };
                change.objectStore("checks").put(saved);
                change.objectStore("checks").put({ ...old, name: "Check of HN-2", key: "begun", waiting: false });
                change.oncomplete = () => { opening.result.close(); done(); };
            };
        })""",
        [str(world.tom.pk), address],
    )

    page.goto(world.home)
    rows = page.locator("[data-kept-list] li")
    expect(rows.filter(has_text="Check of HN-1")).to_contain_text("sent")
    expect(rows.filter(has_text="Check of HN-2")).to_contain_text("begun, not saved yet")

    assert [one.note for one in ConditionCheck.objects.get().findings.all()] == ["third valve"]


def test_taps_kept_before_there_was_one_outbox_are_sent_and_those_not_taken_shown(world):
    shelf = make.place(world.school)
    horn = make.horn(world.school, number="A-1", place=shelf)
    count = counts.begin(school=world.school, places=[], by=world.tom, at=make.NOW)
    page = world.page
    page.goto(world.home)
    tap = {"key": "a" * 32, "horn": horn.pk, "number": "", "note": "dented", "place": shelf.pk, "label": "A-1"}
    lost = {**tap, "key": "b" * 32, "label": "A-2", "sentence": "This count was ended."}
    page.evaluate(
        """([store, tap, lost]) => {
            localStorage.setItem(store, JSON.stringify([{ ...tap, tapped: Date.now() }]));
            localStorage.setItem(`${store}-not-taken`, JSON.stringify([{ ...lost, tapped: Date.now() }]));
        }""",
        [f"count-{count.pk}-{world.tom.pk}", tap, lost],
    )

    page.goto(f"{world.home}counts/{count.pk}/shelf/?place={shelf.pk}")
    expect(page.locator('li[data-number="A-1"]')).to_contain_text("✓ seen")
    expect(page.locator("#not-taken")).to_contain_text("A-2: This count was ended.")

    assert Sighting.objects.get().note == "dented"
    assert page.evaluate("localStorage.length") == 0
