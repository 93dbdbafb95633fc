"""A horn without valves is asked for its crook, its shape and its notes before it is called anything."""

import numpy as np
import pytest

from identify.core.fingering.charts import chart
from identify.core.fingering.together import pattern_in_words
from identify.core.fingering.words import KINDS, chosen_notes
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.asking import worth_asking
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import expected, usual_answer
from identify.core.reasoning.reasons import reason_of
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess, usual_next
from tests.identify.core.reasoning.test_verdict import looked_twice

pytestmark = pytest.mark.either_engine

WITHOUT = [one for one in scales().hypotheses if not one.build.valves]
HOOPS = [one for one in WITHOUT if one.build.wrap == ("standard",)]


def walked(one):
    seen = Observations()
    while (key := usual_next(assess(seen))) is not None:
        seen = seen.with_answer(key, usual_answer(one, key) or CHECKS[key].answers[0])
    return seen


def test_no_valves_alone_leaves_every_kind_without_them_and_asks_on():
    verdict = assess(Observations({"valves": "0"}))
    assert not verdict.settled
    assert {one.build.code for one in verdict.still_possible} == {one.build.code for one in WITHOUT}
    assert verdict.next_check


@pytest.mark.parametrize("one", HOOPS, ids=lambda one: f"{one.build.code} {one.stand.name}")
def test_a_hoop_is_asked_for_its_crook_and_called_nothing_before(one):
    seen = walked(one)
    assert seen.answers["crook"] == ("yes" if one.build.crooked else "no")
    assert not assess(seen.without(["crook"])).settled
    verdict = looked_twice(seen)
    assert (verdict.leading.key, verdict.settled) == (one.key, True)


@pytest.mark.parametrize(("share", "asked"), [(0.099, False), (0.101, True)])
def test_a_crook_is_asked_for_once_one_in_ten_has_no_valves(share, asked):
    on = scales()
    posterior = np.where(on.without_valves, share / on.without_valves.sum(), (1 - share) / (~on.without_valves).sum())
    assert ("crook" in worth_asking(on, Observations(), posterior)) == asked


def test_of_a_horn_with_valves_a_crook_says_nothing():
    one = next(one for one in scales().hypotheses if one.build.code == "vienna-f")
    assert expected(one, "crook") == {}
    said = reason_of(one, "crook", "yes", Observations({"crook": "yes"}))
    assert (said.speaks_for, said.short) == (True, "Such a horn has valves, so this says nothing.")


@pytest.mark.parametrize(("code", "answer", "speaks_for"), [("natural-horn", "yes", True), ("bugle-bb", "yes", False)])
def test_why_a_crook_speaks_for_or_against_a_horn_is_said(code, answer, speaks_for):
    one = next(one for one in WITHOUT if one.build.code == code)
    said = reason_of(one, "crook", answer, Observations({"crook": answer}))
    assert said.speaks_for == speaks_for
    assert "comes off" in said.short or "come off" in said.short


@pytest.mark.parametrize(
    "code", [code for code, build in catalogue().items() if not build.valves and not build.crooked]
)
def test_only_a_natural_horn_has_notes_made_by_the_hand(code):
    build = catalogue()[code]
    shown = chart(build, build.stands[0])
    assert not any(way.hand for note in shown.notes for way in note.ways)
    assert len(chosen_notes(shown, "five")) == 5
    assert all(chosen_notes(shown, kind) for kind in KINDS)


def test_a_bugle_begins_with_the_notes_of_signals_and_a_hunting_horn_with_its_own():
    names = {
        code: [note.written.name for note in chosen_notes(chart(build, build.stands[0]), "five")]
        for code in ("bugle-g", "hunting-horn-eb")
        for build in [catalogue()[code]]
    }
    assert names == {"bugle-g": ["C4", "G4", "C5", "E5", "G5"], "hunting-horn-eb": ["G3", "C4", "E4", "G4", "C5"]}


def test_a_hunting_horn_has_no_crook_in_words_either():
    build = catalogue()["hunting-horn-eb"]
    assert pattern_in_words(build, build.stands[0]) == "without valves, in E♭"


@pytest.mark.parametrize(
    ("key", "answer"), [("each_finger", "2"), ("mechanism", "double-piston"), ("hand", "right"), ("step_down", "0")]
)
def test_an_answer_makes_no_horn_likelier_that_has_nothing_to_answer_with(key, answer):
    on = scales()
    mute = np.array([not expected(one, key) and not expected(one.whole, key) for one in on.every])
    before, after = (on.weighed(Observations(seen), on.priors())[0] for seen in ({}, {key: answer}))
    assert after[mute].sum() == pytest.approx(before[mute].sum())
