"""Which check is asked next, and which is not asked of what a horn has not."""

import numpy as np
import pytest

from identify.core.horns.builds import column_at_rest, column_with, main_lever
from identify.core.reasoning.asking import worth_asking
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.expect import usual_answer
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess, usual_next
from identify.questions import QUESTIONS, WHICH_LEVER

EVERY = scales().hypotheses
# With two rows of slides a double is so much likelier that its thumb is asked for; the answers say what then is true.
# So is a French horn's with one row, whose shape is that of one with a lever: nothing but the thumb tells.
BY_FINGERS = [one for one in EVERY if one.build.valve_count > 3 and not one.build.thumb_levers]
WITH_ONE_ROW = [one for one in BY_FINGERS if one.build.slide_sets == 1 and not one.build.is_french_horn]
THUMB = {"test_note_thumb", "thumb"}


def asked_of(one):
    """The checks of a walk without mistakes, as the pages lead it."""
    seen = Observations()
    while (key := usual_next(assess(seen))) is not None:
        seen = seen.with_answer(key, usual_answer(one, key))
    return list(seen.answers)


@pytest.mark.parametrize("one", WITH_ONE_ROW, ids=lambda one: f"{one.build.code} {one.build.form}")
def test_a_horn_with_four_finger_valves_is_not_asked_about_its_thumb(one):
    assert not THUMB & set(asked_of(one))


def test_who_is_asked_about_a_thumb_lever_that_is_not_there_has_an_answer():
    none = QUESTIONS["test_note_thumb"].choices[-1]
    assert (none.value, none.hint) == ("none", "no fingering sounds the note, or no lever lies under the thumb")
    assert QUESTIONS["test_note"].choices[-1].hint == "no fingering sounds the note"
    assert all(usual_answer(one, "test_note_thumb") == "none" for one in EVERY if not one.build.thumb_levers)


def test_a_double_is_asked_about_its_thumb_before_its_bell():
    double = next(one for one in EVERY if one.key == ("double-full", "F"))
    assert asked_of(double)[:4] == ["valves", "slide_sets", "test_note", "test_note_thumb"]


@pytest.mark.parametrize("one", [one for one in EVERY if len(one.build.thumb_levers) > 1], ids=lambda one: str(one.key))
def test_the_thumb_lever_that_is_asked_for_is_the_one_that_is_reckoned_with(one):
    rest = column_at_rest(one.build, one.stand).pedal
    moves = {lever: column_with(one.build, one.stand, (lever,)).pedal - rest for lever in one.build.thumb_levers}
    fourths = [lever for lever, move in moves.items() if round(abs(move)) == 5]
    most = max(moves, key=lambda lever: abs(moves[lever]))
    assert min(fourths, key=lambda lever: moves[lever], default=most) == main_lever(one.build)
    for key in THUMB:
        assert WHICH_LEVER in QUESTIONS[key].how


@pytest.mark.parametrize("key", ["second_set", "shared_row"])
@pytest.mark.parametrize(("share", "asked"), [(0.0999, False), (0.1001, True)])
def test_a_second_row_is_asked_about_where_one_in_ten_has_it(key, share, asked):
    many = scales().many_sets
    weights = np.where(many, share / many.sum(), (1 - share) / (~many).sum())
    assert (key in worth_asking(scales(), Observations({"valves": "4"}), weights)) is asked
