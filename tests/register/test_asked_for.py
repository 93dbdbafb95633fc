"""The horn that is meant by what was typed or scanned."""

from __future__ import annotations

import pytest

from fleet.register.queries.asked_for import horn_told, horns_told
from tests import make


@pytest.fixture
def horn(db):
    return make.horn(make.school(), number="HN-0042", label_code="ABCD2345")


@pytest.mark.parametrize(
    "typed",
    [
        "HN-0042",
        " hn-0042 ",
        "ABCD2345",
        "abcd2345",
        "https://horns.example.org/h/ABCD2345/",
        "http://127.0.0.1:8000/h/abcd2345",
        "https://horns.example.org/h/ABCD2345/?from=camera",
        "https://horns.example.org/h/ABCD2345#top",
    ],
)
def test_a_horn_is_known_by_number_label_code_and_label_address(horn, typed):
    assert horns_told(horn.school, [typed]) == {typed: horn}
    assert horn_told(horn.school, typed) == horn


@pytest.mark.parametrize("typed", ["", "/", "HN-0043", "https://example.org/path/", "ABCD2346"])
def test_other_words_mean_no_horn(horn, typed):
    assert horns_told(horn.school, [typed]) == {}
    assert horn_told(horn.school, typed) is None


def test_a_class_of_numbers_and_labels_is_read_in_one_query(horn, django_assert_num_queries):
    other = make.horn(horn.school, number="H 7")

    with django_assert_num_queries(1):
        told = horns_told(horn.school, ["h 7", "abcd2345", "HN-0042", "nothing"])

    assert told == {"h 7": other, "abcd2345": horn, "HN-0042": horn}


def test_a_number_comes_before_a_label_of_the_same_letters(horn):
    named = make.horn(horn.school, number="ABCD2345")

    assert horns_told(horn.school, ["abcd2345"]) == {"abcd2345": named}


def test_another_schools_horn_is_not_meant(horn):
    elsewhere = make.school()

    assert horns_told(elsewhere, ["HN-0042", "ABCD2345"]) == {}
    assert horn_told(elsewhere, "HN-0042") is None
