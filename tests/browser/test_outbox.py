"""The outbox by itself: a page that keeps and sends words, and a letterbox that answers as it is told."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
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
from tests.browser.conftest import OUTBOX, outbox_comes_to, slowed

expect.set_options(timeout=15_000)
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

QUEUE = """(most) => {
    window.told = [];
    window.line = outbox.queue({
        mine: (one) => one.kind === "words",
        body: (batch) => JSON.stringify(batch.map((one) => one.words)),
        most,
        on: {
            sent: (batch) => { told.push(["sent", ...batch.map((one) => one.words)]); },
            refused: (one) => { told.push(["refused", one.words]); },
            stuck: (became) => {
                told.push([became.how, became.status]);
                outbox.tell(document.querySelector("h1"), became, "They are", "them");
            },
        },
    });
}"""


class Letterbox:
    """Stands where the site would: `letters` are those that came, `answer` says what each is answered with.

    No answer at all, None, holds the letter; an empty one is lost on its way back.
    """

    def __init__(self, page: Any) -> None:
        self.letters: list[Any] = []
        self.held: list[Any] = []
        self.answer: Callable[[Any], dict[str, Any] | None] = lambda _letter: {"status": 201, "json": {}}
        page.context.route("**/letterbox/", self._take)

    def _take(self, route: Any) -> None:
        self.letters.append(json.loads(route.request.post_data))
        answer = self.answer(route.request)
        if answer is None:
            self.held.append(route)
        elif not answer:
            route.abort("connectionreset")
        else:
            route.fulfill(**answer)

    def hold(self) -> None:
        self.answer = lambda _letter: None

    def lose(self) -> None:
        self.answer = lambda _letter: {}

    def cut(self) -> None:
        self.lose()
        while self.held:
            self.held.pop().abort("connectionreset")

    def open(self) -> None:
        self.answer = lambda _letter: {"status": 201, "json": {}}
        while self.held:
            self.held.pop().fulfill(status=201, json={})


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        tom = make.staff(Role.TEACHER, school)
        page = open_as(tom)
        # Nothing is tried again by itself before a test lets time go on.
        page.clock.install()
        page.clock.pause_at(datetime(2040, 1, 1))
        home = f"/s/{school.slug}/"
        box = Letterbox(page)

        def begin(self, page: Any = None, most: int = 1) -> Any:
            page = page or self.page
            page.goto(self.home)
            page.evaluate(QUEUE, most)
            return page

    return World()


def add(page: Any, *words: str, **more: Any) -> None:
    for one in words:
        entry = {"kind": "words", "path": "/letterbox/", "words": one, **more}
        # Not waited for: what becomes of it is looked at afterwards.
        page.evaluate("(entry) => { line.add(entry); }", entry)


def sent_in_vain(world: Any, page: Any, first: str, *others: str) -> None:
    """Puts all into the outbox, where they are after one letter, with the first alone, that did not arrive."""
    world.box.hold()
    with page.expect_request("**/letterbox/"):
        add(page, first)
    for one in others:
        page.evaluate("(words) => line.add({ kind: 'words', path: '/letterbox/', words })", one)
    world.box.cut()
    told_so_often(page, 1)
    world.box.letters.clear()


def try_again(page: Any) -> None:
    page.evaluate("window.dispatchEvent(new Event('online'))")


def told(page: Any, *what: Any) -> None:
    """Waits until the page was told this."""
    page.wait_for_function("(what) => told.some((one) => JSON.stringify(one) === what)", arg=packed(what))


def told_so_often(page: Any, times: int) -> None:
    page.wait_for_function("(times) => told.length === times", arg=times)


def packed(what: Any) -> str:
    return json.dumps(list(what), separators=(",", ":"))


def holds(page: Any, *words: str, state: str = "waiting") -> None:
    """Waits until just these words lie in the outbox, in that state."""
    outbox_comes_to(
        page,
        """(all, [words, state]) => {
            const mine = all.filter((one) => one.kind === "words" && one.state === state);
            mine.sort((a, b) => a.order - b.order);
            return JSON.stringify(mine.map((one) => one.words)) === words;
        }""",
        [packed(words), state],
    )


def sign_in_on(page: Any, user: User, address: str) -> None:
    browser = Client()
    browser.force_login(user)
    cookie = browser.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": address}])


def test_entries_are_sent_in_their_order_and_one_letter_at_a_time(world):
    page = world.begin()
    world.box.hold()

    add(page, "one", "two", "three")
    holds(page, "one", "two", "three")
    try_again(page)
    assert world.box.letters == [["one"]]
    world.box.open()
    told(page, "sent", "three")

    assert world.box.letters == [["one"], ["two"], ["three"]]
    holds(page)


def test_a_letter_takes_as_many_as_the_queue_says(world):
    page = world.begin(most=2)
    world.box.hold()
    with page.expect_request("**/letterbox/"):
        add(page, "one")

    add(page, "two", "three", "four")
    holds(page, "one", "two", "three", "four")
    world.box.open()
    told(page, "sent", "four")

    assert world.box.letters == [["one"], ["two", "three"], ["four"]]


@pytest.mark.parametrize(
    "answer",
    [
        {"status": 200, "json": {}},
        {"status": 201, "body": "<h1>Welcome to the guest network</h1>", "content_type": "text/html"},
        {"status": 204},
        {"status": 302, "headers": {"Location": "/somewhere/"}},
        {"status": 404, "body": "not here"},
        {"status": 409, "body": "<h1>Pay first</h1>", "content_type": "text/html"},
        {"status": 422, "json": {"error": "of somebody else"}},
        {"status": 500, "body": "boom"},
        {"status": 502, "body": "<h1>Bad gateway</h1>", "content_type": "text/html"},
    ],
    ids=lambda answer: str(answer["status"]),
)
def test_an_answer_that_is_not_ours_counts_neither_as_sent_nor_as_refused(world, answer):
    page = world.begin()
    world.box.answer = lambda _letter: answer

    add(page, "one")
    told_so_often(page, 1)
    holds(page, "one")
    world.box.open()
    try_again(page)
    told(page, "sent", "one")

    holds(page)


def test_an_answer_that_is_lost_has_the_same_entry_sent_once_more(world):
    page = world.begin()
    world.box.lose()
    add(page, "one")
    told(page, "no-connection", None)
    holds(page, "one")

    world.box.open()
    try_again(page)
    told(page, "sent", "one")

    assert world.box.letters == [["one"], ["one"]]
    holds(page)


def test_what_is_refused_is_kept_with_its_sentence_and_holds_up_no_other(world):
    page = world.begin()
    world.box.answer = lambda letter: (
        {"status": 422, "json": {"sentence": "There is no such place."}}
        if "one" in letter.post_data
        else {"status": 201, "json": {}}
    )

    add(page, "one", "two")
    told(page, "sent", "two")
    holds(page, "one", state="refused")
    world.begin()
    add(page, "three")
    told(page, "sent", "three")

    assert world.box.letters == [["one"], ["two"], ["three"]]
    [kept] = page.evaluate(OUTBOX)
    assert kept["sentence"] == "There is no such place."
    page.evaluate("async () => line.drop(...await line.entries())")
    holds(page, state="refused")


def test_of_a_letter_taken_in_part_only_what_was_refused_is_kept(world):
    page = world.begin(most=5)
    sent_in_vain(world, page, "one", "two")
    first = page.evaluate("line.entries().then(([one]) => one.key)")
    world.box.answer = lambda _letter: {"status": 201, "json": {"refused": {first: "Not this one."}}}

    try_again(page)

    holds(page, "one", state="refused")
    holds(page)
    assert world.box.letters == [["one", "two"]]


def test_one_that_the_site_stumbles_over_goes_last_and_alone_after_ever_longer_waits(world):
    page = world.begin(most=5)
    sent_in_vain(world, page, "one", "two", "three")
    world.box.answer = lambda letter: (
        {"status": 500, "body": "boom"} if "one" in letter.post_data else {"status": 201, "json": {}}
    )

    page.clock.run_for(4_000)
    told_so_often(page, 2)
    holds(page, "one", "two", "three")
    page.clock.run_for(8_000)
    told_so_often(page, 3)
    holds(page, "two", "three", "one")
    page.clock.run_for(16_000)
    told_so_often(page, 5)
    holds(page, "three", "one")
    page.clock.run_for(4_000)
    told_so_often(page, 7)
    holds(page, "one")

    assert world.box.letters == [["one", "two", "three"], ["one"], ["two"], ["three", "one"], ["three"], ["one"]]


def test_what_is_not_sent_is_tried_again_by_itself(world):
    page = world.begin()
    world.box.answer = lambda _letter: {"status": 500, "body": "boom"}
    add(page, "one")
    told(page, "trouble", 500)
    expect(page.locator("h1")).to_have_text(
        "The site could not take them (500). They are kept in this browser and tried again."
    )

    world.box.open()
    page.clock.run_for(4_000)
    told(page, "sent", "one")


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
        "Somebody else is signed in on this device. They are kept in this browser until you sign in again."
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

    page.wait_for_selector("h1:has-text('You were signed out. They are kept in this browser.')")
    link = page.get_by_role("link", name="Sign in to send them").get_attribute("href")
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
        "No connection. They are kept only while this page is open and sent as soon as there is one."
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


def test_an_answer_that_its_page_could_not_take_does_not_count(world):
    page = world.page
    page.goto(world.home)
    page.evaluate(
        """() => {
            window.told = [];
            window.line = outbox.queue({ mine: (one) => one.kind === "words", body: () => '["one"]', on: {
                sent: async () => { told.push(["answered"]); await outbox.page("/letterbox/gone/"); },
                stuck: (became) => { told.push([became.how]); },
            } });
        }"""
    )
    page.route("**/letterbox/gone/", lambda route: route.abort())
    add(page, "one")

    told(page, "no-connection")
    holds(page, "one")
    assert page.evaluate("told") == [["answered"], ["no-connection"]]


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
