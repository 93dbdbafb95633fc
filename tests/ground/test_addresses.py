"""What an address asks for: any text at all is read without an error, and only plain digits are a number."""

from __future__ import annotations

import pytest
from django.urls import resolve, reverse
from hypothesis import given
from hypothesis import strategies as st

from fleet.ground.addresses import MOST_KEY, whole
from tests.doors import ADDRESSES


@given(st.integers(0, MOST_KEY))
def test_a_number_is_read_as_it_is_written(number):
    assert whole(str(number)) == number


@given(st.text())
def test_no_text_is_an_error(said):
    number = whole(said)

    assert number is None or number == int(said)


@pytest.mark.parametrize("said", [None, "", "-1", "+1", " 1", "1.0", "1e3", "٣", "²", "1_000", "9" * 19, "9" * 5000])
def test_anything_but_plain_digits_of_a_sensible_length_is_none(said):
    assert whole(said) is None


def test_the_largest_key_has_eighteen_digits():
    assert (whole("9" * 18), whole("1" + "0" * 18)) == (10**18 - 1, None)


def test_more_than_was_asked_for_is_none():
    assert (whole("99", most=99), whole("100", most=99), whole("00099", most=99)) == (99, None, None)


def test_every_address_leads_to_its_own_page_and_to_none_of_a_school_past_all_others():
    for name, parameters in ADDRESSES.items():
        found = resolve(reverse(name, kwargs=dict.fromkeys(parameters, "7")))
        assert found.view_name == name
        # The largest slice has sixty pages, the school a hundred more.
        assert len(found.tried) <= 80, name
