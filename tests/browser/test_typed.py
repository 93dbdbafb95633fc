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

expect.set_options(timeout=15_000)
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BACK = "What you typed is back and was not sent yet. Look it over and send it again."


@pytest.fixture
def family(open_as, live_server):
    """A guardian with a horn at home whose session ends while they write that something is wrong with it."""
    school = make.school()
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
            browser = Client()
            browser.force_login(person)
            cookie = browser.cookies[settings.SESSION_COOKIE_NAME]
            self.page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])

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


def test_an_old_token_loses_nothing_typed(family):
    page = family.page
    family.write("It rattles.")
    page.locator("form.form [name=csrfmiddlewaretoken]").evaluate("(field) => { field.value = 'x'; }")
    family.send()

    expect(page.locator(".messages")).to_contain_text(BACK)
    assert page.input_value("#id_words") == "It rattles."


def test_somebody_else_who_signs_in_is_shown_nothing_of_it(family):
    page = family.page
    family.write("It rattles.")
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    family.send()
    assert "It rattles." in page.evaluate("sessionStorage.getItem('typed')")
    family.come_in(make.staff(Role.TEACHER, make.school(slug="other")))
    page.goto("/")
    assert page.evaluate("sessionStorage.getItem('typed')") is None
