"""What the field guide tells follows from the description of each build."""

from __future__ import annotations

import pytest

from identify.core.drawing.whole import whole
from identify.core.horns.catalogue import catalogue
from identify.deciding import spans
from identify.drawings import picture_of
from identify.guide import checks, confused, found, groups, origins, sounds, who_can_hold


def test_every_build_of_the_catalogue_stands_in_one_group():
    told = [build.code for group in groups() for build in group.builds]

    assert sorted(told) == sorted(catalogue())


def test_a_double_says_what_each_stand_answers_and_a_single_names_none():
    double = {one.question.key: one.answers for one in checks(catalogue()["double-full"])}
    single = {one.question.key: one.answers for one in checks(catalogue()["single-f"])}

    assert double["test_note"] == (("stands in F", "with the first valve"), ("stands in B♭", "open"))
    assert double["slide_sets"] == (("", "2 rows"),)
    assert single["test_note"] == (("", "with the first valve"),)
    assert "thumb" not in single


def test_the_notes_beside_the_test_note_are_the_neighbouring_partials():
    (one,) = sounds(catalogue()["single-f"])

    assert "6th partial" in one.how
    words, notes = one.missed[0]
    assert (words, [note.words for note in notes]) == ("Missed, the note is", ["G3 (written D4)", "C♯4 (written G♯4)"])


def test_notes_are_written_as_the_horn_s_own_part_has_them():
    (alto,) = sounds(catalogue()["alto-horn-eb"])
    natural = {one.where: one.missed[0][1][0].words for one in sounds(catalogue()["natural-horn"])}

    assert alto.right.words == "B♭3 (written G4)"
    assert (natural["crook in E♭"], natural["crook in F"]) == ("G3 (written E4)", "A3 (written E4)")


def test_lengths_that_lie_side_by_side_are_told_as_one():
    told = {one.question.key: one.answers for one in checks(catalogue()["natural-horn"])}

    assert (told["length"], told["width"]) == ((("", "38 to 47 cm"),), (("", "26 cm and more"),))
    assert spans("length", ["0-27", "28-32", "48-54", "65-199"]) == ["Up to 32 cm", "48 to 54 cm", "65 cm and more"]


def test_a_thumb_is_named_only_where_there_is_a_lever_for_it():
    single, double = catalogue()["single-f"], catalogue()["double-full"]
    asked = [{one.question.key: one.question.short for one in checks(build)}["test_note"] for build in (single, double)]

    assert asked == ["Test note", "Test note, thumb up"]
    assert {one.question.short for one in confused(single) if one.question} >= {"Test note"}


def test_a_horn_without_valves_is_told_of_no_fingering():
    (one,) = sounds(catalogue()["hunting-horn-d"])

    assert one.how == "No open note of the 14-foot D tube is B♭3."
    assert [words for words, _ in one.missed] == ["Near it, the note is"]


def test_the_picture_of_a_horn_has_no_numbers_on_its_valves():
    assert picture_of("horn") == whole(catalogue()["double-full"], numbered=False)


@pytest.mark.parametrize("code", [*catalogue()])
def test_an_answer_that_tells_two_kinds_apart_names_its_stand_where_another_answers_otherwise(code):
    build = catalogue()[code]
    for one in confused(build):
        for horn, answer in ((build, one.mine), (one.other, one.theirs)):
            told = next((said for said in checks(horn) if one.question and said.question.key == one.question.key), None)
            assert (" in " in answer) == (told is not None and len(told.answers) > 1), (code, answer)


def test_a_double_s_thumb_lever_is_told_of_the_stand_in_which_a_descant_is_taken_for_it():
    found = {one.other.code: (one.mine, one.theirs) for one in confused(catalogue()["descant-bb-high-f"])}

    assert found["double-full"] == ("the pitch goes up", "down a fourth (stands in B♭)")


@pytest.mark.parametrize("code", [*catalogue()])
def test_whether_a_child_can_hold_it_is_left_to_the_teacher(code):
    *said, last = who_can_hold(catalogue()[code])

    assert said
    assert last == "Let the child hold it: the teacher decides."
    assert any("age 6" in one for one in said) == (code in {"compact-f", "compact-bb"})


def test_answers_in_one_sentence_begin_small_but_the_first():
    (wrap,) = (one.answers for one in checks(catalogue()["double-full-stopping"]) if one.question.key == "wrap")

    assert wrap == (("", "A wide round hoop or small and tight"),)


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("single-f", "Sure. Grove’s Dictionary of Music and Musicians, 1954, “Horn”."),
        (
            "single-f-eb",
            "Good, not confirmed in every point. P. Exline, message to the horn list of the University of Memphis.",
        ),
        ("descant-f-high-f", "From memory."),
    ],
)
def test_where_a_description_comes_from_is_said(code, told):
    assert dict(origins(catalogue()[code]))["Our description"] == told


def test_only_small_horns_have_an_age_and_its_source():
    assert [code for code in catalogue() if "From age 6" in dict(origins(catalogue()[code]))] == [
        "compact-f",
        "compact-bb",
    ]


@pytest.mark.parametrize(
    ("words", "some", "none"),
    [
        ("Vienna", {"vienna-f"}, {"single-f"}),
        ("double BB compens", {"double-compensating"}, {"double-full"}),
        ("compact", {"compact-f", "compact-double-full", "double-full-stopping"}, {"vienna-f", "double-full"}),
        ("trombone", {"baritone-bb"}, {"alto-horn-eb"}),
        ("marching in g", {"marching-horn-g"}, {"marching-horn-bb"}),
        ("kazoo", set(), {"single-f"}),
        ("", {"single-f", "bugle-g"}, set()),
    ],
)
def test_a_kind_is_found_by_any_words_of_its_name_or_description(words, some, none):
    codes = {build.code for group in found(words) for build in group.builds}

    assert some <= codes
    assert not none & codes
    assert all(group.builds for group in found(words))
