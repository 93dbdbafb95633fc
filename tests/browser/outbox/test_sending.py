"""The outbox by itself: in which order, when and how often something is sent, and what counts as sent."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OUTBOX
from tests.browser.outbox.letterbox import add, holds, sent_in_vain, time_passes, told, told_so_often, try_again

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_entries_are_sent_in_their_order_and_one_letter_at_a_time(world):
    page = world.begin()
    world.box.hold()

    with page.expect_request("**/letterbox/"):
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

    time_passes(page, 4_000)
    told_so_often(page, 2)
    holds(page, "one", "two", "three")
    time_passes(page, 8_000)
    told_so_often(page, 3)
    holds(page, "two", "three", "one")
    time_passes(page, 16_000)
    told_so_often(page, 5)
    holds(page, "three", "one")
    time_passes(page, 4_000)
    told_so_often(page, 7)
    holds(page, "one")

    assert world.box.letters == [["one", "two", "three"], ["one"], ["two"], ["three", "one"], ["three"], ["one"]]


def test_what_is_not_sent_is_tried_again_by_itself(world):
    page = world.begin()
    world.box.answer = lambda _letter: {"status": 500, "body": "boom"}
    add(page, "one")
    told(page, "trouble", 500)
    expect(page.locator("h1")).to_have_text(
        "The site could not take it (500). It is tried again. Until then it is kept in this browser."
    )

    world.box.open()
    time_passes(page, 4_000)
    told(page, "sent", "one")


def test_a_connection_that_comes_back_while_a_letter_is_lost_has_it_sent_once_more(world):
    page = world.begin()
    sent_in_vain(world, page, "one")
    world.box.hold()
    with page.expect_request("**/letterbox/"):
        try_again(page)

    try_again(page)
    on_its_way = world.box.held.pop()
    world.box.open()
    on_its_way.abort("connectionreset")
    told(page, "sent", "one")

    assert world.box.letters == [["one"], ["one"]]


def test_a_connection_that_comes_back_makes_the_waits_short_again(world):
    page = world.begin()
    world.box.lose()
    # Each is waited for: what is asked for while a letter is on its way goes with the next one.
    page.evaluate("line.add({ kind: 'words', path: '/letterbox/', words: 'one' })")
    for times in range(1, 4):
        told_so_often(page, times)
        page.evaluate("line.send()")
    told_so_often(page, 4)

    try_again(page)
    told_so_often(page, 5)
    world.box.open()
    time_passes(page, 4_000)
    told(page, "sent", "one")


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
