"""Rows of a table on a phone: each value stands beside its label, and neither covers the next."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_label_of_two_lines_makes_its_row_higher(open_as: Any):
    school = make.school()
    make.pupil(school)
    page = open_as(make.staff(Role.HEAD, school), width=320, height=700)
    page.goto(reverse("people:pupils", args=[school.slug]))

    long, short = (
        page.locator(f"td[data-label='{label}']").bounding_box()["height"] for label in ("Name used in school", "Year")
    )

    assert long > short + 10


def test_the_first_sentence_of_a_page_stands_under_its_title_on_a_desk_too(open_as: Any):
    school = make.school()
    page = open_as(make.staff(Role.HEAD, school), width=1280, height=900)
    page.goto(reverse("workshop:visit", args=[school.slug]))

    title, lead = (page.locator(f".page-head {what}").bounding_box() for what in ("h1", ".lead"))

    assert (lead["x"], lead["y"] >= title["y"] + title["height"]) == (title["x"], True)
