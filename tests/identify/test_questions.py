"""What the pages ask is what the core can weigh, and every answer has its drawing."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from django.http import QueryDict
from django.template.loader import get_template, render_to_string
from hypothesis import given
from hypothesis import strategies as st

from identify.asked import PARTS
from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.verdict import assess, usual_next
from identify.drawings import picture_of
from identify.questions import CANT_TELL, QUESTIONS
from identify.walk import read_walk
from identify.words import in_words, possible, sure_of

DRAWINGS = sorted(Path(get_template("identify/drawings/note-f4.svg").origin.name).parent.glob("*.svg"))
READ_OUT = {question.picture for question in QUESTIONS.values()}


def test_every_check_of_the_core_is_asked_and_nothing_else():
    assert set(QUESTIONS) == set(CHECKS)
    assert all(question.part in PARTS for question in QUESTIONS.values())


def test_every_answer_offered_is_one_the_core_allows():
    for key, question in QUESTIONS.items():
        assert {choice.value for choice in question.choices} <= set(CHECKS[key].answers), key


def test_answers_in_words_are_offered_one_and_all():
    for key in (
        "test_note",
        "test_note_thumb",
        "hand",
        "mechanism",
        "bell",
        "wrap",
        "crook",
        "second_set",
        "thumb",
        "shared_row",
        "length",
    ):
        assert {choice.value for choice in QUESTIONS[key].choices} == set(CHECKS[key].answers), key


def test_a_length_is_asked_for_in_centimetres_and_in_hands_with_its_origin():
    question = QUESTIONS["length"]
    assert [(one.words, one.hint) for one in question.choices] == [
        ("Up to 27 cm", "less than 1.4 hands"),
        ("28 to 32 cm", "about 1.5 hands"),
        ("33 to 37 cm", "about 1.8 hands"),
        ("38 to 42 cm", "about 2 hands"),
        ("43 to 47 cm", "about 2.2 hands"),
        ("48 to 54 cm", "about 2.5 hands"),
        ("55 to 64 cm", "about 3 hands"),
        ("65 cm and more", "more than 3.2 hands"),
    ]
    assert "with your spread hand, about 20 cm" in question.how[0]
    assert "Museums" in question.how[-1]
    assert "from memory" in question.how[-1]


def test_a_bell_is_measured_in_centimetres_and_in_hands_with_its_origin():
    question = QUESTIONS["width"]
    assert [(one.words, one.hint) for one in question.choices] == [
        ("Up to 13 cm", "less than 0.7 hands"),
        ("14 to 17 cm", "about 0.8 hands"),
        ("18 to 22 cm", "about a hand"),
        ("23 to 25 cm", "about 1.2 hands"),
        ("26 to 28 cm", "about 1.4 hands"),
        ("29 cm and more", "more than 1.4 hands"),
    ]
    assert "from memory" in question.how[-1]


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_every_drawing_follows_the_page_and_is_read_out_only_where_it_has_words(path):
    drawn = render_to_string(f"identify/drawings/{path.name}", {"spoken": True})
    svg = ET.fromstring(drawn)  # noqa: S314

    assert svg.get("stroke") == "currentColor"
    read_out = svg.get("role") == "img"
    assert read_out is (svg.get("aria-hidden") is None) is (path.stem in READ_OUT)
    assert read_out is bool(svg.findtext("title") and svg.findtext("desc"))
    for part in svg.iter():
        assert part.get("style") is None
        assert (part.get("stroke") or "none") in {"currentColor", "none"}
        assert (part.get("fill") or "none") in {"currentColor", "none"}


@given(st.dictionaries(st.sampled_from([*CHECKS, "step", "horn", "again", "other"]), st.lists(st.text(), max_size=3)))
def test_no_address_breaks_the_walk_and_its_own_addresses_read_back_as_they_were(query):
    given_query = QueryDict(mutable=True)
    for name, values in query.items():
        given_query.setlist(name, values)

    walk = read_walk(given_query)
    again = read_walk(QueryDict(walk.address()[1:]))

    assert again.observations == walk.observations
    assert again.horn == walk.horn
    assert not again.problems


_ANSWERS = st.fixed_dictionaries(
    {}, optional={key: st.sampled_from([*check.answers, CANT_TELL]) for key, check in CHECKS.items()}
)


@given(_ANSWERS)
def test_a_walk_always_goes_on_and_never_asks_what_it_asked(answers):
    query = QueryDict(mutable=True)
    query.update(answers)
    walk = read_walk(query)
    verdict = assess(walk.observations)

    assert usual_next(verdict) not in walk.observations.asked
    left = possible(verdict)
    assert 1 <= left.kinds <= left.of
    assert len(left.shown) + left.left_out == left.kinds


@pytest.mark.parametrize(("answer", "settled"), [("", False), ("&mechanism=rotary", True)])
def test_nothing_is_called_as_good_as_certain_before_it_is_settled(answer, settled):
    seen = "valves=4&slide_sets=2&test_note=1&test_note_thumb=0&second_set=longer&hand=left&wrap=standard&bell=back"
    verdict = assess(read_walk(QueryDict(f"{seen}&length=38-42&shared_row=one-side{answer}")).observations)
    assert verdict.settled is settled
    assert verdict.leading.least >= 0.98

    first = possible(verdict).shown[0].likely
    assert first == ("as good as certain" if settled else "very likely")
    assert sure_of(verdict).startswith("As good as certain: ") is settled


@given(_ANSWERS)
def test_nothing_is_called_certain_or_likely_while_the_answers_do_not_fit_together(answers):
    query = QueryDict(mutable=True)
    query.update(answers)
    verdict = assess(read_walk(query).observations)

    said = " ".join([sure_of(verdict), *(kind.likely for kind in possible(verdict).shown)]).lower()
    assert verdict.fits or not (verdict.settled or "certain" in said or "likely" in said)


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_likelier_chance_never_sounds_less_likely(one, other):
    ranked = [
        "very unlikely",
        "unlikely",
        "possible",
        "about as likely as not",
        "likely",
        "very likely",
        "as good as certain",
    ]
    low, high = sorted((one, other))

    assert ranked.index(in_words(low)) <= ranked.index(in_words(high))


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1, "as good as certain"),
        (0.98, "as good as certain"),
        (0.979, "very likely"),
        (0.9, "very likely"),
        (0.899, "likely"),
        (0.65, "likely"),
        (0.649, "about as likely as not"),
        (0.35, "about as likely as not"),
        (0.349, "possible"),
        (0.1, "possible"),
        (0.099, "unlikely"),
        (0.03, "unlikely"),
        (0.029, "very unlikely"),
        (0, "very unlikely"),
    ],
)
def test_each_word_for_a_chance_begins_where_it_says(chance, words):
    assert in_words(chance) == words


def test_the_walk_says_it_of_nothing_but_the_horn_in_hand():
    said = [
        words
        for question in QUESTIONS.values()
        for words in (question.title, *question.how, question.care, *(one.words for one in question.choices))
    ]
    said += [choice.hint for question in QUESTIONS.values() for choice in question.choices]

    of_the_horn = ["Hold it as for playing.", "How long is it?"]
    assert [words for words in said if re.search(r"\bit\b", str(words), re.IGNORECASE)] == of_the_horn


def test_each_answer_about_fingers_has_another_one_filled():
    pictures = [picture_of("fingers", one.down, one.thumb) for one in QUESTIONS["each_finger"].choices if one.drawing]
    filled = [[mark for mark in one.marks if getattr(mark, "part", "") == "pressed"] for one in pictures]

    assert [len(marks) for marks in filled] == [1, 1, 1, 1]
    assert len({str(marks) for marks in filled}) == 4
