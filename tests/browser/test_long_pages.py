"""No page of the demo school is longer than a few screens of a phone; what is folded opens for who wants it."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.desk.actions import demo
from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.register.models import Horn
from fleet.workshop.models import RepairJob
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SCREEN = 844


def test_the_pages_of_a_school_that_lends_are_a_few_screens_of_a_phone(open_as: Any):
    school = demo.load(at=timezone.now())
    page = open_as(User.objects.get(email=demo.SIGN_INS[0][1]), width=390, height=SCREEN)
    horns, out = Horn.objects.at(school), Loan.objects.at(school).open().earliest("pk")
    unknown = horns.filter(build="", withdrawn_on=None).earliest("number")
    pages = {
        reverse("desk:today", args=[school.slug]): 3,
        reverse("desk:picture", args=[school.slug]): 3,
        reverse("desk:prints", args=[school.slug]): 2,
        reverse("workshop:care", args=[school.slug]): 3,
        **{reverse("workshop:job", args=[school.slug, job.pk]): 3.6 for job in RepairJob.objects.at(school)},
        reverse("loans:new-year", args=[school.slug]): 3,
        reverse("loans:letter-words", args=[school.slug]): 1.5,
        reverse("workshop:check-new", args=[school.slug, unknown.pk]): 3,
        reverse("loans:return", args=[school.slug, out.pk]): 3.2,
        reverse("loans:swap", args=[school.slug, out.pk]): 3.9,
        **{reverse("desk:horn", args=[school.slug, horn.pk]): 3.5 for horn in horns},
    }

    heights = {address: screens for address in pages for screens in [_screens(page, address)]}
    guardian = User.objects.get(email=demo.SIGN_INS[-1][1])
    family = open_as(guardian, width=360, height=SCREEN)
    for loan in Loan.objects.answered_for_by(guardian).open():
        address = reverse("desk:family-horn", args=[loan.pk])
        pages[address], heights[address] = 3, _screens(family, address)

    assert {address: screens for address, screens in heights.items() if screens > pages[address]} == {}


def _screens(page: Any, address: str) -> float:
    assert page.goto(address).status == 200, address
    return round(page.evaluate("document.documentElement.scrollHeight") / SCREEN, 1)


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("sign_in", demo.SIGN_INS[:3], ids=lambda sign_in: sign_in[0])
def test_what_presses_stands_on_today_in_its_order_and_without_holes(open_as: Any, sign_in: Any, width: int):
    school = demo.load(at=timezone.now())
    page = open_as(User.objects.get(email=sign_in[1]), width=width)
    page.goto(reverse("desk:today", args=[school.slug]))

    piles = [one.bounding_box() for one in page.locator(".piles > .card").all()]
    gaps = {round(below["y"] - above["y"] - above["height"]) for above, below in pairwise(piles)}

    assert len(piles) >= 4
    assert len(gaps) == 1
    assert min(gaps) > 0
    assert len({(one["x"], one["width"]) for one in piles}) == 1


def test_a_number_in_a_title_stays_on_one_line_of_a_phone(open_as: Any):
    school = make.school()
    horn = make.horn(school, number="HN-0001")
    page = open_as(make.staff(Role.HEAD, school), width=390)
    page.goto(reverse("loans:reserve", args=[school.slug, horn.pk]))

    for width in (320, 360, 390):
        page.set_viewport_size({"width": width, "height": SCREEN})
        lines = page.evaluate("""() => {
            const words = document.querySelector("h1").firstChild, range = document.createRange();
            range.setStart(words, words.data.indexOf("HN-"));
            range.setEnd(words, words.data.indexOf("HN-") + 7);
            return range.getClientRects().length;
        }""")
        assert (width, lines) == (width, 1)


def test_in_twice_the_text_what_stands_beside_a_row_of_a_phone_goes_below_it(open_as: Any):
    school = make.school()
    make.horn(school)
    page = open_as(make.staff(Role.HEAD, school), width=390)
    page.goto(reverse("desk:together", args=[school.slug]))
    below = """() => {
        const [words, button] = [".why", ".do"].map((one) => document.querySelector(one).getBoundingClientRect());
        return button.top >= words.bottom;
    }"""

    assert not page.evaluate(below)
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate(below)


def test_what_a_phone_folds_stands_open_on_a_desk(open_as: Any):
    school = demo.load(at=timezone.now())
    head = User.objects.get(email=demo.SIGN_INS[0][1])
    at = reverse("desk:horn", args=[school.slug, Horn.objects.at(school).earliest("number").pk])

    for width, seen in ((390, False), (1280, True)):
        page = open_as(head, width=width)
        page.goto(at)
        assert page.get_by_text("Serial number").is_visible() is seen


def test_a_days_field_shows_where_the_focus_is_on_each_of_its_stops(open_as: Any):
    school = make.school()
    make.pupil(school, group="5b")
    page = open_as(make.staff(Role.HEAD, school))
    page.goto(reverse("loans:new-year", args=[school.slug]))
    page.locator("#id_ends").focus()

    stops = []
    while page.evaluate("document.activeElement.name") == "ends":
        stops.append(page.evaluate("getComputedStyle(document.activeElement).outlineStyle"))
        page.keyboard.press("Tab")

    assert stops == ["solid"] * 4
