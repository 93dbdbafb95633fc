"""Counting on a phone whose connection comes and goes, in a real browser."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone
from playwright.sync_api import expect

from fleet.counting.actions import counts
from fleet.counting.models import Find, Sighting
from fleet.ground.access import Role
from tests import make
from tests.browser.conftest import OUTBOX
from tests.browser.outbox.letterbox import sent_until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def counting(open_as):
    """A count of two horns on one shelf, and `page(name, …)` for a phone standing at it."""

    class Counting:
        school = make.school()
        shelf = make.place(school, room="Store")
        first = make.horn(school, number="A-1", place=shelf)
        second = make.horn(school, number="A-2", place=shelf)
        count = counts.begin(school=school, places=[], by=make.staff(Role.HEAD, school), at=timezone.now())
        address = f"/s/{school.slug}/counts/{count.pk}/shelf/?place={shelf.pk}"

        tom = make.staff(Role.TEACHER, school, name="Tom", password="five staff lines")

        def page(self, name="Tom", **how):
            who = self.tom if name == "Tom" else make.staff(Role.TEACHER, self.school, name=name)
            page = open_as(who, width=390, **how)
            page.goto(self.address)
            return page

    return Counting()


def row(page, number):
    return page.locator(f'li[data-number="{number}"]')


def tap(page, number):
    row(page, number).get_by_role("button", name="Seen here").click()


def test_what_is_tapped_without_a_connection_is_kept_and_sent_once_when_it_returns(counting):
    page = counting.page()
    page.context.set_offline(True)

    row(page, "A-1").locator("summary").click()
    page.get_by_label("Condition in passing").first.fill("bell rim bent")
    tap(page, "A-1")
    page.fill("#number", "a-2")
    page.keyboard.press("Enter")
    page.wait_for_selector("#kept:has-text('2 kept on this phone')")
    page.wait_for_selector("#kept:has-text('No connection')")
    assert not Sighting.objects.exists()

    page.context.set_offline(False)
    page.wait_for_selector("#kept", state="hidden")
    row(page, "A-1").get_by_text("✓ seen").wait_for()

    assert sorted(Sighting.objects.values_list("line__number", "note", "by__name")) == [
        ("A-1", "bell rim bent", "Tom"),
        ("A-2", "", "Tom"),
    ]
    assert page.evaluate(OUTBOX) == []


def test_an_answer_that_is_lost_on_its_way_does_not_count_the_horn_twice(counting):
    page = counting.page()
    lost = []

    def lose(route):
        # The letter reaches the site; the answer never reaches the phone.
        if not lost and "A-1" not in lost and '"horn"' in (route.request.post_data or ""):
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    page.route("**/sent/**", lose)
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('1 kept on this phone')")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_selector("#kept", state="hidden")

    assert lost == [201]
    assert Sighting.objects.count() == 1


def test_what_is_kept_outlives_the_page(counting):
    page = counting.page()
    page.route("**/sent/**", lambda route: route.abort())
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('1 kept on this phone')")

    page.unroute("**/sent/**")
    page.reload()
    row(page, "A-1").get_by_text("✓ seen").wait_for()
    page.wait_for_selector("#kept", state="hidden")

    assert [one.line.number for one in Sighting.objects.select_related("line")] == ["A-1"]


def test_two_people_see_each_others_taps(counting):
    tom, una = counting.page("Tom"), counting.page("Una")

    tap(tom, "A-1")
    row(tom, "A-1").get_by_text("✓ seen").wait_for()
    seen, open_still = (row(tom, one).get_by_role("button", name="Seen here").bounding_box() for one in ("A-1", "A-2"))
    assert seen["height"] < open_still["height"]
    tap(una, "A-2")
    row(una, "A-1").get_by_text("✓ seen").wait_for()

    assert sorted(Sighting.objects.values_list("line__number", "by__name")) == [("A-1", "Tom"), ("A-2", "Una")]


def test_a_number_nobody_has_on_record_is_kept_as_found_shown_and_taken_back(counting):
    page = counting.page()
    page.fill("#number", "Z-9")
    page.keyboard.press("Enter")
    page.get_by_text("Z-9: not in the register, kept as found here").wait_for()
    assert [str(find) for find in Find.objects.all()] == ["Z-9"]

    page.get_by_role("button", name="Take back Z-9").click()
    page.get_by_text("Z-9: taken back.").wait_for()

    expect(page.locator("#finds")).to_be_hidden()
    assert not Find.objects.standing().exists()
    assert not Sighting.objects.exists()


def test_one_that_the_site_stumbles_over_holds_up_no_other(counting):
    page = counting.page()

    def stumble(route):
        if "a-1" in (route.request.post_data or ""):
            route.fulfill(status=500, body="boom")
        else:
            route.continue_()

    page.route("**/sent/**", stumble)
    page.context.set_offline(True)
    for number in ("a-1", "a-2"):
        page.fill("#number", number)
        page.keyboard.press("Enter")
    page.wait_for_selector("#kept:has-text('2 kept on this phone')")
    page.context.set_offline(False)
    # A letter lost in this very moment waits longer and longer for the next.
    sent_until(lambda: "1 kept on this phone" in page.inner_text("#kept"), page)
    assert [str(seen) for seen in Sighting.objects.select_related("line")] == ["A-2"]

    page.unroute("**/sent/**")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_selector("#kept", state="hidden", timeout=30_000)

    assert sorted(str(seen) for seen in Sighting.objects.select_related("line")) == ["A-1", "A-2"]


def test_taps_that_arrive_after_the_end_are_not_lost_silently(counting):
    page = counting.page()
    page.context.set_offline(True)
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('No connection')")
    counts.end(count=counting.count, by=counting.count.started_by, at=timezone.now())

    page.context.set_offline(False)
    page.wait_for_selector("#not-taken:has-text('A-1: This count was ended')")
    assert not Sighting.objects.exists()

    page.get_by_role("button", name="I have seen to it").click()
    page.wait_for_selector("#not-taken", state="hidden")


def test_somebody_signed_out_is_told_and_keeps_what_was_tapped(counting):
    page = counting.page()
    Session.objects.all().delete()
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('You were signed out')")
    assert not Sighting.objects.exists()
    assert [(one["label"], one["by"]) for one in page.evaluate(OUTBOX)] == [("A-1", str(counting.tom.pk))]

    page.get_by_role("link", name="Sign in to send it").click()
    page.wait_for_url("**/account/sign-in/**")
    page.fill("input[name=login]", counting.tom.email)
    page.fill("input[name=password]", "five staff lines")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{counting.address}")
    row(page, "A-1").get_by_text("✓ seen").wait_for()

    assert [(str(seen), str(seen.by)) for seen in Sighting.objects.select_related("line", "by")] == [("A-1", "Tom")]


def test_somebody_else_who_signs_in_on_the_phone_does_not_send_what_was_tapped_before(counting, open_as):
    page = counting.page()
    page.route("**/sent/**", lambda route: route.abort())
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('1 kept on this phone')")
    at = page.url
    una = make.staff(Role.TEACHER, counting.school, name="Una")
    browser = Client()
    browser.force_login(una)
    session = browser.cookies[settings.SESSION_COOKIE_NAME]
    # Gone from the page first: an answer that is still under way would bring Tom's session back.
    page.goto("about:blank")
    page.context.clear_cookies()
    page.context.add_cookies([{"name": session.key, "value": session.value, "url": at}])
    page.unroute("**/sent/**")

    page.goto(counting.address)
    tap(page, "A-2")
    row(page, "A-2").get_by_text("✓ seen").wait_for()

    assert [(str(seen), str(seen.by)) for seen in Sighting.objects.select_related("line", "by")] == [("A-2", "Una")]
    assert [(one["label"], one["by"]) for one in page.evaluate(OUTBOX)] == [("A-1", str(counting.tom.pk))]


def test_a_label_opened_by_the_phones_camera_is_counted_with_one_tap(counting):
    page = counting.page()

    page.goto(f"/h/{counting.second.label_code}/")
    page.wait_for_url("**/shelf/**")
    page.get_by_role("button", name="I see it here").click()
    page.get_by_text("A-2: kept. Scan the next label.").wait_for()
    row(page, "A-2").get_by_text("✓ seen").wait_for()

    expect(page.locator("#scanned")).to_have_count(0)
    assert [str(seen) for seen in Sighting.objects.select_related("line")] == ["A-2"]


CAMERA = """
    // Stand-ins for hardware only: a canvas for the lens, a list for the decoder that this browser lacks here.
    window.inView = [];
    window.BarcodeDetector = class { async detect() { return window.inView.map((rawValue) => ({ rawValue })); } };
    navigator.mediaDevices.getUserMedia = async () => {
      const lens = document.createElement("canvas");
      lens.getContext("2d").fillRect(0, 0, 300, 150);
      return lens.captureStream(10);
    };
"""


def test_labels_held_before_the_pages_own_camera_are_counted_once_each(counting):
    page = counting.page()
    page.add_init_script(CAMERA)
    page.reload()
    page.get_by_role("button", name="Scan with the camera").click()
    page.get_by_role("button", name="Stop the camera").wait_for()

    for horn in (counting.first, counting.second):
        page.evaluate("label => { window.inView = [label]; }", f"https://horns.example.org/h/{horn.label_code}/")
        row(page, horn.number).get_by_text("✓ seen").wait_for()
    page.get_by_role("button", name="Stop the camera").click()
    expect(page.locator("#scanner")).to_be_hidden()

    assert sorted(str(seen) for seen in Sighting.objects.select_related("line")) == ["A-1", "A-2"]


def test_where_the_browser_reads_no_codes_nothing_offers_it(counting):
    page = counting.page()
    page.add_init_script("delete window.BarcodeDetector;")
    page.reload()

    page.get_by_text("The phone’s own camera reads labels too.").wait_for()
    expect(page.get_by_role("button", name="Scan with the camera")).to_be_hidden()


def test_without_script_the_count_works_all_the_same(counting):
    page = counting.page(script=False)
    tap(page, "A-1")
    page.get_by_text("A-1: seen at Store.").wait_for()
    page.fill("#number", "A-2")
    page.get_by_role("button", name="Seen here", exact=True).click()
    page.get_by_text("A-2: seen at Store.").wait_for()

    row(page, "A-1").locator("summary").click()
    page.get_by_role("button", name="Take back A-1").click()
    page.get_by_text("A-1: taken back.").wait_for()

    assert [one.line.number for one in Sighting.objects.standing().select_related("line")] == ["A-2"]


def test_the_masthead_and_the_shelf_keep_to_the_content_policy(counting):
    page = counting.page()
    said = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.reload()
    tap(page, "A-1")
    row(page, "A-1").get_by_text("✓ seen").wait_for()

    assert said == []
