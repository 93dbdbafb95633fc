"""Counting on a phone whose connection comes and goes, in a real browser."""

from __future__ import annotations

import pytest
from django.utils import timezone

from fleet.access import Role
from fleet.counting import actions
from fleet.counting.models import Sighting
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def counting(open_as):
    """A count of two horns on one shelf, and `page(name, …)` for a phone standing at it."""

    class Counting:
        school = make.school()
        shelf = make.place(school, room="Store")
        first = make.horn(school, number="A-1", place=shelf)
        second = make.horn(school, number="A-2", place=shelf)
        count = actions.begin(school=school, places=[], by=make.staff(Role.HEAD, school), at=timezone.now())
        address = f"/s/{school.slug}/counts/{count.pk}/shelf/?place={shelf.pk}"

        def page(self, name="Tom", **how):
            page = open_as(make.staff(Role.TEACHER, self.school, name=name), width=390, **how)
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
    assert page.evaluate("Object.keys(localStorage)") == []


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

    assert lost == [200]
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
    tap(una, "A-2")
    row(una, "A-1").get_by_text("✓ seen").wait_for()

    assert sorted(Sighting.objects.values_list("line__number", "by__name")) == [("A-1", "Tom"), ("A-2", "Una")]


def test_a_tap_the_site_refuses_is_shown_with_its_reason_until_somebody_has_seen_to_it(counting):
    page = counting.page()
    page.fill("#number", "Z-9")
    page.keyboard.press("Enter")
    page.wait_for_selector("#not-taken:has-text('No horn of this school has the number or label “Z-9”')")

    page.reload()
    page.get_by_role("button", name="I have seen to it").click()
    page.wait_for_selector("#not-taken", state="hidden")

    assert not Sighting.objects.exists()


def test_taps_that_arrive_after_the_end_are_not_lost_silently(counting):
    page = counting.page()
    page.context.set_offline(True)
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('No connection')")
    actions.end(count=counting.count, by=counting.count.started_by, at=timezone.now())

    page.context.set_offline(False)
    page.wait_for_selector("#not-taken:has-text('A-1: This count was ended')")

    assert not Sighting.objects.exists()


def test_somebody_signed_out_is_told_and_keeps_what_was_tapped(counting):
    page = counting.page()
    page.context.clear_cookies()
    tap(page, "A-1")
    page.wait_for_selector("#kept:has-text('You are signed out')")

    assert page.evaluate("Object.keys(localStorage).length") == 1


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
