from datetime import UTC, date, datetime

import pytest
from django.utils.translation import override

from fleet.ground.wording import (
    folded,
    in_reading_order,
    long_day,
    reachable,
    short_day,
    spoken_time,
    with_article,
    with_commas,
)
from identify.core.horns.speech import within


@pytest.mark.parametrize(("language", "said"), [("de", "a, 3"), ("ar", "a، 3")])
def test_what_is_listed_has_the_commas_of_its_language_and_nothing_empty(language, said):
    with override(language):
        assert (with_commas(("a", "", 3)), with_commas(["a"]), with_commas(())) == (said, "a", "")


@pytest.mark.parametrize(
    ("when", "said"),
    [
        (date(2026, 12, 31), "31 Dec 2026"),
        (date(2027, 1, 1), "1 Jan"),
        (date(2027, 12, 31), "31 Dec"),
        (date(2028, 1, 1), "1 Jan 2028"),
    ],
)
def test_a_day_of_another_year_than_this_says_which(when, said):
    assert short_day(when, date(2027, 5, 3)) == said


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en-gb", ("4 Mar", "4 Mar 2027", "Thursday, 4 March 2027", "09:05, 4 March 2027", "bell")),
        ("de", ("04.03.", "04.03.2027", "Donnerstag, 4. März 2027", "09:05, 4. März 2027", "Bell")),
    ],
)
def test_days_and_headings_are_told_as_the_language_of_the_page_writes_them(language, said):
    day, at = date(2027, 3, 4), datetime(2027, 3, 4, 9, 5, tzinfo=UTC)
    with override(language):
        told = short_day(day, day), short_day(day, date(2026, 12, 31)), long_day(day), spoken_time(at), within("Bell")

    assert told == said


def test_words_are_folded_alike_whatever_their_case_and_accents():
    assert folded("ÖMER ÇELİK-ß Đặng Ł Ø Æ Œ ı É") == "omer celik-ss dang l o ae oe i e"
    assert folded("Ïγ Ёж B♭ F♯") == "iγ еж bb f#"
    assert folded("plain 5B") == "plain 5b"


@pytest.mark.parametrize(
    ("words", "said"), [("alto horn", "an alto horn"), ("baritone", "a baritone"), ("Old", "an Old")]
)
def test_a_word_that_begins_with_a_vowel_has_an(words: str, said: str):
    assert with_article(words) == said


def test_numbers_inside_words_sort_as_numbers():
    said = ["Room 10", "room 2", "Room 2b", "Röom 1", "Attic", "Room 02 a"]
    assert sorted(said, key=in_reading_order) == ["Attic", "Röom 1", "room 2", "Room 02 a", "Room 2b", "Room 10"]
    assert sorted(["10a", "5b", "12", "5a"], key=in_reading_order) == ["5a", "5b", "10a", "12"]


def test_a_room_stands_before_its_shelves_and_those_by_their_numbers():
    places = [("Room 1", "shelf 10"), ("Room 1", "shelf 9"), ("Room 1", ""), ("Room 11", "")]
    assert sorted(places, key=lambda place: in_reading_order(*place)) == [
        ("Room 1", ""),
        ("Room 1", "shelf 9"),
        ("Room 1", "shelf 10"),
        ("Room 11", ""),
    ]


@pytest.mark.parametrize(
    ("words", "number"),
    [
        # As ITU-T E.123 writes them, and as schools do; numbers of ranges kept for stories (Ofcom, from memory).
        ("Music office, 01632 960 123", "01632960123"),
        ("+44 1632 960123, mornings", "+441632960123"),
        ("+44 (0)1632 960 123", "+441632960123"),
        ("0641/960123-12", "064196012312"),
    ],
)
def test_a_telephone_number_is_a_link_that_dials_it(words, number):
    assert f'<a href="tel:{number}" dir="ltr">' in reachable(words)


@pytest.mark.parametrize(
    "words",
    [
        "HN-0001",
        "H 0123",
        "03/05/2027",
        "03.05.2027",
        "2026-09-01",
        "room 012",
        "0123.4567",
        "12 horns and 30 cases",
        "<b>",
    ],
)
def test_what_is_no_telephone_number_is_no_link(words):
    assert "<a " not in reachable(words)
    assert "<b>" not in reachable(words)


def test_an_address_with_figures_is_one_link():
    said = reachable("office.0163296012@example.org or https://example.org/0163296012")

    assert said.count("<a ") == 2
    assert "tel:" not in said
