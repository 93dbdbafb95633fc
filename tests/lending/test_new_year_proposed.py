"""What a new school year proposes for a class, in words."""

from __future__ import annotations

from datetime import date

import pytest

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
