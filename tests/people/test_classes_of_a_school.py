"""The classes of a school, all at once and page by page."""

from __future__ import annotations

import pytest

from fleet.people.queries.classes import class_names, classes, page_of_classes
from tests import make

# In reading order; one of signs alone has nothing to be sorted by.
IN_ORDER = [("—", 1), ("5b", 2), ("10a", 1), ("Band", 1), ("band", 1), ("Bläser", 1)]


@pytest.fixture
def school(db):
    school = make.school()
    for group in ("band", "Band", "10a", "5b", "Bläser", "5b", "—"):
        make.pupil(school, group=group)
    make.pupil(school, group="Left", left_on=make.TODAY)
    make.pupil(make.school(), group="Elsewhere")
    return school


@pytest.mark.both_engines
@pytest.mark.parametrize("somebody_in_none", [False, True])
def test_pages_of_classes_give_what_all_of_them_are_in_reading_order_with_those_in_none_last(
    school, monkeypatch, somebody_in_none
):
    if somebody_in_none:
        make.pupil(school, group="")
    all_of_them = [*IN_ORDER, *([("", 1)] if somebody_in_none else [])]

    assert sorted(classes(school)) == sorted(all_of_them)
    assert list(class_names(school)) == [name for name, _ in IN_ORDER]
    for in_none, wanted in ((True, all_of_them), (False, IN_ORDER)):
        for per_page in (1, 2, 6, 7):
            monkeypatch.setattr("fleet.people.queries.classes.PAGE", per_page)
            last = -(-len(wanted) // per_page)
            pages = [page_of_classes(school, str(number), in_none=in_none) for number in range(1, last + 1)]
            assert [one for page in pages for one in page.rows] == wanted
            assert [page.has_next for page in pages] == [True] * (last - 1) + [False]
            # What no page is called gives the last, or the first.
            for asked, number in ((str(last + 1), last), ("9" * 30, 1), ("0", 1), ("x", 1), (None, 1)):
                assert page_of_classes(school, asked, in_none=in_none) == pages[number - 1]
    assert page_of_classes(make.school(), "2", in_none=True).rows == []


def test_of_classes_asked_for_those_come_that_somebody_is_in(school):
    assert classes(school, ["Band", "5b", "Left", "", "Elsewhere"]) == [("5b", 2), ("Band", 1)]
    assert classes(school, []) == []
