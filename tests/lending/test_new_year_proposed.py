"""What a new school year proposes for a class, in words, and in which order classes stand."""

from __future__ import annotations

from datetime import date

import pytest
from django.utils.translation import override

from fleet.lending.queries.new_year import classes_now
from tests import make
from tests.lending.test_new_year import form_of


def test_each_class_says_what_is_proposed_and_opens_where_something_must_be_put_right():
    proposed = form_of("5a", "13")
    sent = form_of("5a", "13", sent={"c0-group": ""})

    assert [chosen for _, _, chosen, _ in proposed.rows] == [
        "they go on as 6a; horns are lent until the new end",
        "they leave the school; horns are called back",
    ]
    assert [opened for _, _, _, opened in proposed.rows] == [False, False]
    assert [opened for _, _, _, opened in sent.rows] == [True, False]


@pytest.mark.parametrize(
    ("ends", "later"), [(date(2028, 2, 29), date(2029, 2, 28)), (date(2028, 2, 28), date(2029, 2, 28))]
)
def test_the_new_end_is_proposed_a_year_later(ends, later):
    assert form_of("5a", ends=ends).initial["ends"] == later


@pytest.mark.parametrize("language", ["en", "de"])
def test_classes_stand_by_their_years_then_by_name_and_those_in_none_last(db, language):
    school = make.school()
    for year, group in [("", ""), ("", "Wind band"), ("7", ""), ("", "Brass band"), ("", "6b"), ("6", "Wind band")]:
        make.pupil(school, year=year, group=group)

    with override(language):
        found = [(one.year, one.group) for one in classes_now(school, counted=9)]

    assert found == [("", "6b"), ("6", "Wind band"), ("7", ""), ("", "Brass band"), ("", "Wind band"), ("", "")]
