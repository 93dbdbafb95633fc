"""The whole picture of a school year that is over."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.utils.dateformat import format as dated

from fleet.ground.access import Role
from fleet.reports.queries.figures import condition
from tests import make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("ends", "named"),
    [
        (date(2027, 7, 31), ["2025/26", "2024/25", "2023/24"]),
        (date(2026, 12, 31), ["2025", "2024", "2023"]),
        (None, []),
    ],
)
def test_each_school_year_that_is_over_is_one_tap_away(as_, monkeypatch, ends, named):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    school = make.horn(make.school(year_ends=ends)).school
    browser = as_(make.staff(Role.HEAD, school))
    page = browser.get(f"/s/{school.slug}/picture/").content.decode()

    years = re.findall(r'<a\s+href="(\?until=[^"]+)"\s*>([^<]+)</a>', page)
    assert [name for _, name in years] == named
    assert ", until" not in page
    for address, name in years:
        shown = browser.get(f"/s/{school.slug}/picture/{address}")
        told, text = shown.context["figures"], " ".join(shown.content.decode().split())
        assert told.since.strftime("%Y") == name[:4]
        said = (f", until {dated(told.until, 'j F Y')}.", f'aria-current="page" >{name}<')
        assert [words for words in said if words not in text] == []


@pytest.mark.both_engines
def test_a_year_in_which_no_horn_was_kept_hides_none_before_it(db):
    school = make.school()
    make.horn(school, created=make.NOW.replace(year=2022), withdrawn_on=date(2023, 5, 1))
    make.horn(school, created=make.NOW)

    assert [one.horns for one in condition(school, make.TODAY)] == [1, 0, 0, 0, 1]
    assert [one.horns for one in condition(school, date(2024, 12, 31), 4)] == [0, 1, 0, 0]
