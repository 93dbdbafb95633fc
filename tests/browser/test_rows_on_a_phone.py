"""Rows of a table on a phone: each value stands beside its label, and neither covers the next."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.people.models import School
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.models import Photograph
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_label_of_two_lines_makes_its_row_higher(open_as: Any):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    page = open_as(head, width=240, height=700)
    page.goto(reverse("exchange:import", args=[school.slug, make.a_list(school, head).pk]))
    long, short = (page.locator(f"td[data-column='{name}']").first for name in ("value", "line"))
    long.evaluate("cell => { cell.dataset.label = 'What it says there'; }")

    assert long.bounding_box()["height"] > short.bounding_box()["height"] + 10


@pytest.fixture
def long_lists() -> School:
    """A school with more than a page of horns, each overdue with a pupil of a long name, charged and waiting."""
    school = make.school()
    head = make.staff(Role.HEAD, school)
    for n in range(26):
        name, group = f"Esther-Marie Lindqvist-Baumgartner {n}", "Brass class 9a"
        pupil = make.pupil(school, make.guardian(school, with_account=False), name=name, group=group)
        horn = make.horn(school, build="double-compensating", maker="Brackwater & Daughters")
        loan = make.loan(horn, pupil, head, due_on=make.TODAY)
        make.charge(loan, head)
        make.wish(pupil, head)
        make.letter(loan, state="sent")
        record(deed=Deed.HORN_NEW, school=school, by=head, at=make.NOW, horn=horn, told=[["build", "double horn"]])
    return school


# Of a child with a longer name yet: whether any of the row stands below its tick, and no longer beside it.
BELOW_ITS_TICK = """() => {
  const name = document.querySelector("td[data-column='tick'] + [data-column='name']");
  if (!name) return false;
  name.querySelector("a").textContent += " von der Waldwiese";
  const beside = name.previousElementSibling.getBoundingClientRect().right;
  const shown = [...name.parentElement.cells].slice(1).filter((cell) => cell.offsetWidth);
  return shown.some((cell) => cell.getBoundingClientRect().left < beside);
}"""


def test_a_page_of_a_long_list_is_a_few_screens_of_a_phone(open_as: Any, long_lists: School):
    page = open_as(long_lists.posts.get(role="head").user, width=390, height=844)
    of = ("register:horns", "loans:loans", "people:pupils", "loans:charges", "loans:wishes", "loans:letters")

    tall = {}
    for one in (*of, "desk:record"):
        page.goto(reverse(one, args=[long_lists.slug]))
        assert page.locator("tbody tr").count() >= 15, one
        height = page.evaluate("document.documentElement.scrollHeight")
        if height > 3.6 * 844:
            tall[one] = height
        assert not page.evaluate(BELOW_ITS_TICK), one

    assert tall == {}


def test_a_horn_takes_two_lines_and_its_row_is_one_target(open_as: Any):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    horn = make.horn(school, number="HN-0001", build="double-full")
    make.check(horn, teacher)
    make.loan(horn, make.pupil(school, make.guardian(school), name="Bo", group="5b"), teacher)
    page = open_as(teacher, width=390, height=700)
    page.goto(reverse("register:horns", args=[school.slug]))

    row = page.locator(".horns tbody tr")
    box = row.bounding_box()
    assert 44 <= box["height"] <= 80
    with page.expect_navigation():
        row.click(position={"x": box["width"] - 8, "y": box["height"] - 8})
    assert page.url.endswith(reverse("desk:horn", args=[school.slug, horn.pk]))


def test_the_first_sentence_of_a_page_stands_under_its_title_on_a_desk_too(open_as: Any):
    school = make.school()
    page = open_as(make.staff(Role.HEAD, school), width=1280, height=900)
    page.goto(reverse("workshop:visit", args=[school.slug]))

    title, lead = (page.locator(f".page-head {what}").bounding_box() for what in ("h1", ".lead"))

    assert (lead["x"], lead["y"] >= title["y"] + title["height"]) == (title["x"], True)


@pytest.mark.parametrize("build", ["double-compensating", "double-full"])
def test_a_horn_that_wants_attention_takes_three_lines_whatever_its_kind(open_as: Any, build: str):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    kept = make.horn(school, number="HN-0007", build=build, place=make.place(school, room="Horn cupboard, bottom"))
    make.check(kept, teacher, grade=3)
    out = make.horn(school, number="HN-0008", build=build)
    Photograph.objects.create(horn=out, image="x.jpg", width=4, height=3, by=teacher, at=make.NOW)
    make.check(out, teacher)
    make.loan(out, make.pupil(school, make.guardian(school), name="Bo Lindgren", group="Wind band"), teacher)
    page = open_as(teacher, width=390, height=700)
    page.goto(reverse("register:horns", args=[school.slug]))

    for number in ("HN-0007", "HN-0008"):
        row = page.locator(f".horns tbody tr:has-text('{number}')")
        line = row.locator("td[data-column='number']").evaluate("cell => parseFloat(getComputedStyle(cell).lineHeight)")
        # Box and badge are higher than their lines; a fourth line would make it more than four and a half.
        assert row.bounding_box()["height"] < 4.4 * line, number


@pytest.mark.parametrize("build", ["double-full", "double-full-stopping"])
def test_the_table_of_a_chart_with_all_that_can_be_shown_fits_a_small_phone(open_as: Any, build: str):
    school = make.school()
    horn = make.horn(school, build=build, stands_in="F")
    page = open_as(make.staff(Role.TEACHER, school), width=320, height=700)

    page.goto(reverse("desk:chart", args=[school.slug, horn.pk]) + "?as=table&with=both,stopped,trills,pedals")
    page.evaluate("document.querySelectorAll('main details').forEach((fold) => { fold.open = true; })")

    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("shown", ["", "?with=both,stopped,trills,pedals", "?as=table&with=both,stopped,trills,pedals"])
def test_a_chart_takes_three_screens_of_a_phone_at_most_whatever_it_shows(open_as: Any, shown: str):
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    page = open_as(make.staff(Role.TEACHER, school), width=390, height=844)

    page.goto(reverse("desk:chart", args=[school.slug, horn.pk]) + shown)

    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 844
    folded = page.locator("details:not([open]) summary").all_inner_texts()
    assert folded[0].startswith("How it is taught")
    assert ("C3 to B3" in folded) is bool(shown)


def test_at_a_desk_all_parts_of_a_chart_s_table_stand_open(open_as: Any):
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    page = open_as(make.staff(Role.TEACHER, school), width=1280, height=844)

    page.goto(reverse("desk:chart", args=[school.slug, horn.pk]) + "?as=table")

    assert page.locator(".fold:not([open]) summary").all_inner_texts() == [
        "Where this comes from",
        "Each tube as a straight line",
    ]


@pytest.mark.parametrize("of", ["workshop:bench", "workshop:parts"])
def test_a_full_workshop_takes_three_screens_of_a_phone_at_most(open_as: Any, of: str):
    school = make.school()
    technician = make.staff(Role.TECHNICIAN, school)
    for at in range(60):
        horn = make.horn(school, number=f"HN-{at:04}", place=make.place(school, room=f"Horn cupboard {at}"))
        make.finding(make.check(horn, technician, grade=3), job=make.job(horn, technician))
        make.part(school, name=f"Rotor bumper no. {at}", minimum=4, on_hand=at % 6)
    for horn in school.horns.all()[:20]:
        make.report(horn, technician, "It sticks and it rattles, and the water key leaks.")
    page = open_as(technician, width=390, height=844)
    page.goto(reverse(of, args=[school.slug]))

    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 844


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_the_masthead_shows_the_whole_name_of_the_school_and_of_who_is_there(open_as: Any, width: int):
    school = make.school(name="St. Bartholomew’s Grammar School with Music")
    page = open_as(make.staff(Role.HEAD, school, name="Maximiliane Reed"), width=width)
    page.goto(reverse("desk:today", args=[school.slug]))

    cut = "all => all.filter(one => one.scrollWidth > one.clientWidth).map(one => one.innerText)"
    assert page.locator(".masthead :is(.at, .wordmark, .opener span)").evaluate_all(cut) == []
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_why_a_job_is_where_it_is_on_the_bench_list_has_the_width_of_its_row(open_as: Any):
    school = make.school()
    technician = make.staff(Role.TECHNICIAN, school)
    make.job(make.horn(school), technician, state="bench", work_ordered="Clean it through.")
    page = open_as(technician, width=320)
    page.goto(reverse("workshop:bench", args=[school.slug]))
    row, why = (page.locator(f".tasks > li:has(.taps){one}").bounding_box()["width"] for one in ("", " > .why"))

    assert why > 0.9 * row
