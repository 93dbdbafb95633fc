"""Whoever sends a form by keyboard that is not taken stands at what is wrong, and one key away from the field."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_what_is_wrong_has_the_focus_and_leads_to_the_field(open_as: Any):
    school = make.school()
    page = open_as(make.staff(Role.HEAD, school), width=390, height=700)
    page.goto(reverse("register:place-new", args=[school.slug]))
    assert not page.title().startswith("Not saved yet")
    page.focus("#id_shelf")
    with page.expect_navigation():
        page.keyboard.press("Enter")

    page.wait_for_selector("[role=alert]:focus")
    assert page.title().startswith("Not saved yet: ")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**#id_room")
    page.keyboard.type("Store")

    assert page.input_value("#id_room") == "Store"


def test_focus_goes_to_what_is_wrong_with_a_familys_report(open_as):
    school = make.school()
    guardian = make.guardian(school)
    loan = make.loan(make.horn(school), make.pupil(school, guardian), make.staff(Role.HEAD, school))
    page = open_as(guardian.user, width=360, height=740)
    page.goto(f"/family/{loan.pk}/")

    with page.expect_navigation():
        page.get_by_role("button", name="Tell the school").click()

    page.wait_for_function("document.activeElement.matches('.refusal')")
    assert page.title().startswith("Not saved yet")
    page.get_by_role("link", name="What is wrong?").click()
    assert page.evaluate("document.activeElement.name") == "words"
