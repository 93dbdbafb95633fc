"""What the catalogue says of single kinds of horn."""

import pytest

from identify.core.fingering.charts import chart
from identify.core.fingering.teaching import Teaching
from identify.core.horns.builds import columns
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import NONE
from identify.core.reasoning.expect import Hypothesis, expected, usual_answer

pytestmark = pytest.mark.either_engine


def test_builds_without_a_source_say_so():
    unsourced = {code for code, build in catalogue().items() if "no single source" in build.source}
    from_memory = {code for code, build in catalogue().items() if build.source == "from memory, not confirmed"}
    assert not unsourced
    assert from_memory == {
        "descant-f-high-f",
        "compact-bb-stopping",
        "compact-double-full",
        "compact-double-compensating",
    }
    assert all(catalogue()[code].certainty == "from memory" for code in from_memory)


def test_the_same_slide_is_met_tuned_to_a_three_quarter_tones_and_a_whole_tone():
    usual = [form for form in catalogue()["single-bb-stopping"].forms if form.thumb_levers]
    tuned = {form.form: form.levers[0].semitones for form in usual}
    assert tuned == {"": 1.5, "A": 1.0, "whole tone": 2.0}
    assert catalogue()["single-f-stopping"].levers[0].semitones == 1.0


@pytest.mark.parametrize("code", ["double-full-stopping", "double-compensating-stopping"])
def test_on_a_double_too_the_stopping_slide_is_met_tuned_to_a(code):
    tuned = {form.form: form.levers[1].semitones for form in catalogue()[code].forms}
    assert (tuned[""], tuned["A"]) == (1.5, 1.0)


def test_the_only_extra_valve_is_worked_by_the_fourth_finger_too():
    form = next(form for form in catalogue()["single-bb-stopping"].forms if form.form == "fourth finger")
    assert (form.valve_count, form.thumb_levers) == (4, ())
    assert any("4" in column.fingers for column in columns(form, form.stand("Bb")))


@pytest.mark.parametrize("kind", ["full", "compensating"])
def test_a_compact_double_is_the_double_in_another_wrap(kind):
    small, usual = catalogue()[f"compact-double-{kind}"], catalogue()[f"double-{kind}"]
    assert (small.wrap, usual.wrap) == (("compact",), ("standard",))
    assert (small.sides, small.levers, small.stands) == (usual.sides, usual.levers, usual.stands)
    assert "compact" not in {form.form for form in usual.forms}


def test_a_vienna_double_is_a_full_double_with_the_valves_of_the_vienna_horn():
    both, vienna, full = (catalogue()[code] for code in ("vienna-double", "vienna-f", "double-full"))
    assert (both.mechanism, both.linkage) == (vienna.mechanism, vienna.linkage)
    assert (both.sides, both.levers, both.valves) == (full.sides, full.levers, full.valves)


def test_a_mellophone_in_e_flat_may_be_one_in_f_with_its_slide_in():
    usual, slide = catalogue()["mellophone-eb"].forms
    assert slide.form == "E♭ slide"
    assert (slide.sides, slide.stands) == (usual.sides, usual.stands)


def test_one_of_two_extra_valves_is_worked_by_the_fourth_finger_too():
    usual, form = catalogue()["single-bb-stopping-f-extension"].forms
    assert (form.valve_count, len(form.thumb_levers)) == (usual.valve_count, 1) == (5, 1)
    assert any("4" in column.fingers for column in columns(form, form.stand("Bb")))


def test_a_bugle_with_two_valves_cannot_sound_the_test_note_but_the_longer_one_can():
    bugle, longer = catalogue()["mellophone-bugle-g"], catalogue()["marching-horn-g"]
    assert expected(Hypothesis(bugle, bugle.stand("G")), "test_note") == {NONE: 1.0}
    assert usual_answer(Hypothesis(longer, longer.stand("G")), "test_note") == "2"
    assert [form.valve_count for form in longer.forms] == [2, 3]


@pytest.mark.parametrize("code", ["triple-full", "triple-compensating"])
def test_a_triple_is_met_with_a_high_e_flat_side_too(code):
    form = next(form for form in catalogue()[code].forms if form.form == "high E♭")
    assert {column.tube for column in columns(form, form.stand("F"))} == {"F12", "Bb9", "Eb6"}


def test_alto_horn_baritone_and_flugelhorn_are_of_one_class():
    codes = ("alto-horn-eb", "alto-horn-f", "baritone-bb", "flugelhorn-bb")
    assert {catalogue()[code].class_code for code in codes} == {"423.231"}


def test_a_baritone_is_as_long_as_a_trombone_and_not_called_bass_sized():
    assert "bass" not in catalogue()["baritone-bb"].about


def test_two_valves_leave_gaps_in_a_chart_and_pedals_of_those_two():
    longer = catalogue()["marching-horn-g"]
    shown = chart(longer, longer.stand("G"))
    lacking = [note.written.name for note in shown.notes if not note.sounds]
    assert lacking == ["F#2", "G2", "Ab2", "C#3", "D3", "Eb3", "Ab3", "Ab4", "Ab5"]
    low = chart(longer, longer.stand("G"), Teaching(layers=frozenset({"pedals"})))
    assert [note.ways[0].fingering for note in low.sounding_notes if note.ways[0].partial == 1] == ["12", "1", "2", "0"]


@pytest.mark.parametrize("build", catalogue().values(), ids=lambda build: build.code)
def test_what_is_no_french_horn_says_so_once_and_no_french_horn_does(build):
    assert build.about.count("no French horn") == (0 if build.is_french_horn else 1)
