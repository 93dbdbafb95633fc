"""What the whole picture of a large school tells where it is asked to: what to buy; the years before and repairs."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from html import unescape

import pytest

from fleet.ground.access import Role
from fleet.matching.queries.buying import Lack, ToBuy, ToLookAt, to_buy
from fleet.reports.queries.figures import figures
from fleet.reports.queries.whole_picture import sections
from tests import make
from tests.reports.test_prints import text
from tests.reports.test_whole_picture import UNTIL

REST = "is told by every check and job"
pytestmark = pytest.mark.django_db


def test_what_to_buy_is_asked_on_purpose_where_it_takes_long(as_, monkeypatch):
    school = make.school()
    make.pupil(school, make.guardian(school), group="Horn beginners")
    make.horn(school, build="marching-mellophone-f")
    browser = as_(make.staff(Role.HEAD, school))
    address = f"/s/{school.slug}/picture/"
    assert "single horn that stands in F" in browser.get(address).content.decode()

    monkeypatch.setattr("fleet.reports.pages.yearly.AT_ONCE", 0)
    page = browser.get(address).content.decode()
    assert "single horn that stands in F" not in page
    [asked] = re.findall(r'href="(\?until=[^"#]*)#buy"', page)

    page = browser.get(f"{address}{unescape(asked)}").content.decode()
    assert "single horn that stands in F" in page
    # As the print does, which on the page with it keeps it.
    [report] = re.findall(r'href="([^"]*yearly-report[^"]*)"', page)
    assert "buy" in report
    assert "single horn that stands in F" in text(browser.get(unescape(report)).content)
    assert "single horn that stands in F" not in text(browser.get(report.partition("?")[0]).content)


def test_the_years_before_and_repairs_are_asked_on_purpose_where_it_takes_long(as_, monkeypatch):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    for day in ("2023-05-05", "2026-01-09"):
        make.check(make.horn(school, acquired_on="2020-01-01"), head, at=f"{day}T10:00Z")
    for cost in (Decimal("12.10"), Decimal("7.20"), None):
        make.job(school.horns.first(), head, state="done", at=make.NOW, cost=cost, minutes=20)
    browser = as_(head)
    address = f"/s/{school.slug}/picture/?until={UNTIL}"
    at_once, whole = "fleet.reports.queries.figures.AT_ONCE", figures(school, UNTIL)
    monkeypatch.setattr(at_once, 2)
    assert figures(school, UNTIL) == whole
    assert REST not in browser.get(address).content.decode()

    monkeypatch.setattr(at_once, 1)
    brief = figures(school, UNTIL)
    assert (brief.condition, brief.by_fault, brief.by_age) == (whole.condition[-1:], [], [])
    assert (brief.spent, brief.jobs_with_cost, brief.jobs_without_cost) == (Decimal("19.30"), 2, 1)
    assert figures(school, UNTIL, whole=True) == whole
    page = browser.get(address).content.decode()
    assert (REST in page, "Repair cost by age" in page, "Repairs by year" in page) == (True, False, False)
    [asked] = re.findall(r'href="(\?until=[^"#]*whole=yes)"', page)
    # What was asked for stays where more is, and on paper.
    page = browser.get(f"/s/{school.slug}/picture/{unescape(asked)}&buy=yes").content.decode()
    assert (REST in page, "Repair cost by age" in page, "Repairs by year" in page) == (False, True, True)
    [report] = re.findall(r'href="([^"]*yearly-report[^"]*)"', page)
    assert "buy=yes" in report
    for link, told in ((unescape(report), True), (report.partition("&")[0], False)):
        words = text(browser.get(link).content)
        assert [one in words for one in ("4 years before and on", "Repair cost by age", REST)] == [told, told, not told]


def test_what_to_buy_is_one_horn_for_each_pupil_of_a_class_whom_no_horn_can_serve(as_):
    school = make.school()
    guardian = make.guardian(school)
    make.horn(school, build="single-f", stands_in="F", number="HN-1", grade=1)
    for number in range(3):
        make.pupil(school, guardian, name=f"Wren {number}", group="Horn beginners")
    make.pupil(school, guardian, name="In no class", group="")
    other = make.school()
    make.pupil(other, make.guardian(other), group="Elsewhere")

    lacks = to_buy(school).lacks
    page = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/picture/").content.decode()

    assert [(lack.what, lack.horns, lack.classes) for lack in lacks] == [
        ("single horn that stands in F", 2, ("Horn beginners",))
    ]
    assert "single horn that stands in F" in page
    assert "Wren" not in page


def test_a_lack_whose_classes_were_not_worked_out_says_so():
    lacks = [Lack("double horn that stands in F", 206, ())]
    told = replace(figures(make.school(), UNTIL), to_buy=ToBuy(ToLookAt(0, 0), lacks))

    [section] = [one for one in sections(told) if one.key == "buy"]

    assert section.rows[0] == ["double horn that stands in F", "–", "206"]
    assert "it stays open which class each is for" in section.sentence
