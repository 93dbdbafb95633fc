"""What was typed into a form whose session had ended: back after signing in, for the same person only."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import expect

from fleet.ground.access import Role
from fleet.workshop.models import FaultReport
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BACK = "What you typed is back and was not sent yet. Look it over and send it again."
# Types into the first field for words of each form in turn: gives its name and what it now holds, or nothing after the
# last form.
TYPE = """(which) => {
    const takes = (one) => ['textarea', 'text', 'number', 'date'].includes(one.type) && one.name && !one.readOnly;
    const field = [...document.querySelectorAll('main form[method=post]:not([data-kept])')]
        .map((form) => [...form.elements].find(takes)).filter(Boolean)[which];
    if (!field) return null;
    field.value = {number: '7', date: '2026-01-31'}[field.type] || 'Lever clicks';
    field.form.noValidate = true;
    field.form.dataset.tried = '';
    return [field.form.getAttribute('action') || '', field.name, field.value];
}"""
HOLDS = """([action, name, value]) => [...document.forms].some((form) =>
    (form.getAttribute('action') || '') === action && form.elements[name] && form.elements[name].value === value)"""


@pytest.fixture
def come_in(live_server):
    def signed_in(page: Any, person: Any) -> None:
        browser = Client()
        browser.force_login(person)
        cookie = browser.cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])

    return signed_in


@pytest.fixture
def family(open_as, come_in):
    """A guardian with a horn at home whose session ends while they write that something is wrong with it."""
    school = make.school(family_languages=["de"])
    guardian = make.guardian(school)
    horn = make.horn(school)
    loan = make.loan(horn, make.pupil(school, guardian), make.staff(Role.TEACHER, school))

    class Family:
        page = open_as(guardian.user, width=390)
        address = f"/family/{loan.pk}/"
        person = guardian.user

        def write(self, words: str) -> None:
            self.page.goto(self.address)
            self.page.fill("#id_words", words)
            self.page.get_by_label("No", exact=True).check()

        def send(self) -> None:
            with self.page.expect_navigation():
                self.page.get_by_role("button", name="Tell the school").click()

        def come_in(self, person: Any) -> None:
            come_in(self.page, person)

    return Family()


def test_what_was_typed_comes_back_after_signing_in_and_is_sent_by_hand(family):
    page = family.page
    family.write("The second lever clicks.")
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    family.send()
    assert "sign-in" in page.url
    family.come_in(family.person)
    # Wherever signing in leads to: on to the page of the form.
    page.goto("/family/")
    page.wait_for_url(f"**{family.address}")

    expect(page.locator(".messages")).to_contain_text(BACK)
    assert page.input_value("#id_words") == "The second lever clicks."
    assert page.get_by_label("No", exact=True).is_checked()
    assert not FaultReport.objects.exists()
    family.send()
    assert FaultReport.objects.get().words == "The second lever clicks."
    page.goto(family.address)
    assert page.input_value("#id_words") == ""
    # In another language and back, what nobody sent yet.
    family.write("It rattles.")
    for language in ("Deutsch", "English"):
        with page.expect_navigation():
            page.get_by_role("button", name=language).click()
        assert page.input_value("#id_words") == "It rattles."
        assert page.locator("[type=radio]:checked").get_attribute("value") == "no"
    page.goto(family.address)
    assert page.input_value("#id_words") == ""


def test_an_old_token_loses_nothing_typed(family):
    page = family.page
    family.write("It rattles.")
    page.locator("form.form [name=csrfmiddlewaretoken]").evaluate("(field) => { field.value = 'x'; }")
    family.send()

    expect(page.locator(".messages")).to_contain_text(BACK)
    assert page.input_value("#id_words") == "It rattles."


def test_a_connection_that_drops_loses_nothing_typed(family):
    page = family.page
    family.write("It rattles.")
    page.context.set_offline(True)
    with page.expect_event("requestfailed", lambda request: request.method == "POST"):
        page.get_by_role("button", name="Tell the school").click()
    # Where the browser's own page about it has come, no other is on its way.
    page.wait_for_url("chrome-error://**")
    page.context.set_offline(False)
    page.goto(family.address)

    expect(page.locator(".messages")).to_contain_text(BACK)
    assert page.input_value("#id_words") == "It rattles."
    family.send()
    assert FaultReport.objects.get().words == "It rattles."
    expect(page.locator(".messages")).not_to_contain_text(BACK)


def test_somebody_else_who_signs_in_is_shown_nothing_of_it(family):
    page = family.page
    family.write("It rattles.")
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    family.send()
    assert "It rattles." in page.evaluate("sessionStorage.getItem('typed')")
    family.come_in(make.staff(Role.TEACHER, make.school(slug="other")))
    page.goto("/")
    assert page.evaluate("sessionStorage.getItem('typed')") is None


@pytest.mark.parametrize("address", ["/s/bench/parts/", "/family/papers/"])
def test_both_ends_of_a_session_are_said_two_minutes_before(open_as, settings, address):
    settings.SESSION_HOURS = 1
    school = make.school(slug="bench")
    page = open_as(make.staff(Role.TECHNICIAN, school) if "bench" in address else make.guardian(school).user)
    idle, over = page.locator("[data-idle-after]"), page.locator("[data-over-after]")
    page.clock.install()
    page.goto(address)
    page.clock.fast_forward(26 * 60 * 1000 + 50_000)
    expect(idle).to_be_hidden()
    page.clock.fast_forward(11_000)
    expect(idle).to_contain_text("In two minutes you will be signed out, since nothing happened here.")
    idle.get_by_role("button", name="Stay signed in").click()
    expect(idle).to_be_hidden()
    expect(over).to_be_hidden()
    page.clock.fast_forward(30 * 60 * 1000)

    expect(over).to_contain_text("since you signed in long ago")
    expect(idle).to_be_hidden()


def test_words_typed_at_the_bench_survive_the_end_of_a_session(open_as, come_in):
    """A form of each page: filled in, sent by nobody who is signed in any more, and filled in once more for them."""
    school = make.school(slug="bench")
    technician, horn = make.staff(Role.TECHNICIAN, school), make.horn(school)
    job = make.job(horn, technician, state="bench")
    make.finding(make.check(horn, technician))
    loan = make.loan(make.horn(school), make.pupil(school, make.guardian(school)), technician)
    report = make.report(loan.horn, loan.guardian.user)
    page = open_as(technician, width=390)
    lost, tried = [], 0
    for address in (f"jobs/{job.pk}/", f"jobs/{job.pk}/outside/", f"fault-reports/{report.pk}/", "labour/"):
        for which in range(20):
            page.goto(f"/s/bench/{address}")
            typed = page.evaluate(TYPE, which)
            if not typed:
                break
            page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
            with page.expect_navigation():
                page.evaluate("document.querySelector('[data-tried]').requestSubmit()")
            come_in(page, technician)
            page.goto("/")
            page.wait_for_url(f"**/s/bench/{address}")
            expect(page.locator(".messages")).to_contain_text(BACK)
            tried += 1
            if not page.evaluate(HOLDS, typed):
                lost.append(f"{address}: {typed}")

    assert not lost
    assert tried == 5
