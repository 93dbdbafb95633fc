from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.fingering import charts as fingering
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import Teaching, asked, told
from identify.core.fingering.ways import FAR_OFF
from identify.core.fingering.words import build_named, differs, label, stand_named
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, Stand, columns
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import name_of

EVERY = [(form, stand) for form in catalogue().every_form() for stand in form.stands]
every_horn = st.sampled_from(EVERY)


def chart_of(code: str, stand: str = "", form: str = "", **taught: Any) -> Chart:
    build = build_named(code, form)
    return chart(build, stand_named(build, stand), Teaching(**taught))


@given(every_horn)
def test_charts_rise_by_semitones_to_written_c6(horn: tuple[Build, Stand]) -> None:
    written = [note.written.midi for note in chart(*horn).notes]
    assert written == list(range(written[0], 84 + 1))


@given(every_horn)
def test_nothing_far_off_is_printed_without_saying_so(horn: tuple[Build, Stand]) -> None:
    for note in chart(*horn).notes:
        for way in note.ways:
            assert bool(way.warning) == (abs(way.cents) > FAR_OFF)
            assert abs(way.cents) < 60


@given(every_horn)
def test_every_alternative_sounds_the_note_within_35_cents_by_the_air_column(horn: tuple[Build, Stand]) -> None:
    build, stand = horn
    by_levers = {(column.thumb, column.fingers): column for column in columns(build, stand)}
    for note in chart(build, stand).notes:
        for way in note.alternatives if build.valves else ():
            fingers = tuple(lever.name for lever in build.levers if lever.name in way.fingering)
            column = by_levers[way.thumb, fingers]
            valves = "".join(name for name in way.fingering if name not in fingers) or "0"
            cents = 100 * (column.pitch(valves, way.partial) - note.sounding.midi)
            assert abs(cents) <= 35
            assert abs(cents - way.cents) < 1e-9


@given(every_horn)
def test_no_way_is_offered_twice_and_no_pedal_is_used(horn: tuple[Build, Stand]) -> None:
    for note in chart(*horn).notes:
        ways = [(way.fingering, way.thumb, way.partial, way.hand) for way in note.ways]
        assert len(set(ways)) == len(ways)
        assert all(way.partial >= 2 for way in note.ways)


@given(st.sampled_from([form for form in catalogue().every_form() if form.reversible]))
def test_a_restrung_horn_sounds_its_notes_as_before_with_the_thumb_the_other_way_round(form: Build) -> None:
    first, second = (chart(form, stand) for stand in form.stands)
    strung = {first.stand.tube, second.stand.tube}
    assert [note.written for note in first.notes] == [note.written for note in second.notes]
    for one, other in zip(first.notes, second.notes, strict=True):
        before, after = ({(way.tube, way.fingering, way.partial): way.thumb for way in n.ways} for n in (one, other))
        if len(before) < 5:  # of more than that, the least useful are left out
            assert before.keys() == after.keys()
        for way in before.keys() & after.keys():
            if way[0] in strung:
                assert (before[way] == ()) != (after[way] == ())


def test_a_horn_that_stands_in_b_flat_is_fingered_as_the_single_b_flat_horn() -> None:
    # "Horn in Marching Band: Marching B-flat Horn", a horn teacher's handout (scribd 319806352): the fingerings of
    # a B♭ horn are those of the B♭ side of a double. At rest it is that side (reference: "stands in").
    single = chart_of("single-bb")
    assert [single.at(name).ways[0].fingering for name in ("C4", "D4", "E4", "F4", "G4")] == ["0", "12", "2", "0", "1"]
    for build in catalogue().values():
        if build.reversible and "Bb" in {stand.name for stand in build.stands} and not build.valves[3:]:
            double = chart(build, build.stand("Bb"))
            for written in range(56, 74):  # A♭3 to C♯5, above which a triple takes its high side
                name = name_of(written).name
                way = double.at(name).ways[0]
                assert (way.thumb, way.fingering) == ((), single.at(name).ways[0].fingering), (build.code, name)


def test_a_double_changes_to_its_b_flat_side_at_written_g_sharp_4() -> None:
    double = chart_of("double-full", "F")
    assert double.at("G4").ways[0].thumb == ()
    assert double.at("Ab4").ways[0].thumb == ("change",)


def fingers(of: Chart) -> dict[str, str]:
    return {note.written.name: note.ways[0].fingering for note in of.sounding_notes}


def test_a_beginner_s_chart_never_presses_the_thumb_and_is_that_of_the_side_at_rest() -> None:
    for code in ("double-full", "double-compensating", "double-full-stopping", "triple-full", "wagner-double"):
        for stand, alone in (("F", "single-f"), ("Bb", "single-bb")):
            never = chart_of(code, stand, thumb=False)
            assert not any(way.thumb for note in never.notes for way in note.ways)
            assert fingers(never) == fingers(chart_of(alone))


@given(every_horn)
def test_without_its_thumb_lever_a_horn_has_no_note_that_it_lacks_with_it(horn: tuple[Build, Stand]) -> None:
    assert fingers(chart(*horn, Teaching(thumb=False))).keys() <= fingers(chart(*horn)).keys()
    matters = any(set(way.thumb) - {"stopping"} for note in chart(*horn).notes for way in note.ways)
    assert fingering.thumb_matters(*horn) == matters


def test_other_fingerings_are_those_worth_teaching() -> None:
    # Fault 14 of the charts: A4 had seven, B♭4 a 7th partial 31 cents flat.
    double = chart_of("double-full", "F")
    for of in (double, chart_of("triple-full", "F"), chart_of("single-f")):
        for note in of.notes:
            assert len(note.alternatives) <= 4
            assert not {way.partial for way in note.alternatives} & {7, 11, 13, 14, 15}
    assert [label(double, way) for way in double.at("Bb4").ways][:2] == ["T1", "1"]
    # Published, each an alternative: 3 for 12 (Horn Overdrive wiki), 13 for G4 on a B♭ horn (Jonathan's horn thoughts),
    # 1 for C5 on the F tube (tuning notes of the University of Oklahoma).
    single = chart_of("single-bb")
    assert all("3" in {way.fingering for way in single.at(name).alternatives} for name in ("D4", "A4", "D5"))
    assert "13" in {way.fingering for way in single.at("G4").alternatives}
    assert "1" in {way.fingering for way in chart_of("single-f").at("C5").alternatives}


def test_an_address_says_what_is_chosen_of_a_chart_and_nothing_else() -> None:
    for teaching in (
        Teaching(),
        Teaching(thumb=False),
        Teaching(layers=frozenset({"stopped"})),
        Teaching(high_from="E5"),
        Teaching(bass_clef=True),
    ):
        assert asked(told(teaching)) == teaching
    assert asked({"thumb": "sometimes", "high": "C9", "with": "bells,"}) == Teaching()


def stopped(of: Chart) -> dict[str, list[str]]:
    return {note.written.name: [label(of, way) for way in note.stopped] for note in of.notes}


def test_stopped_notes_of_the_f_side_are_fingered_a_semitone_lower() -> None:
    # "Solving the mystery of stopped horn", Band Directors Talk Shop: stopped C5 is 2, a minor second lower, F side.
    single = chart_of("single-f", layers=frozenset({"stopped"}))
    assert stopped(single)["C5"] == ["+2"]
    for note in single.notes:
        for way in note.stopped:
            assert way.fingering == single.at(name_of(note.written.midi - 1).name).ways[0].fingering
    assert stopped(chart_of("double-full", "F", layers=frozenset({"stopped"})))["C5"] == ["+2"]
    assert all(abs(way.cents) < 60 for note in single.notes for way in note.stopped)
    assert stopped(chart_of("double-full", "Bb", layers=frozenset({"stopped"})))["C5"] == ["+T2"]
    assert stopped(chart_of("double-full", "Bb", layers=frozenset({"stopped"}), thumb=False))["C5"] == []


def test_a_stopping_lever_counts_only_on_the_side_it_acts_on() -> None:
    layers = frozenset({"stopped"})
    # J. Ericson, Horn Matters, 2009: the slide makes up for what the hand adds on the B♭ side.
    assert stopped(chart_of("single-bb-stopping", layers=layers))["F4"] == ["+S0"]
    assert stopped(chart_of("double-full-stopping", "F", layers=layers))["F4"] == ["+0", "+TS0"]
    assert stopped(chart_of("double-full-stopping", "Bb", layers=layers))["F4"] == ["+T0", "+S0"]
    for code in ("double-full-stopping", "descant-bb-high-f-stopping"):
        for stand in build_named(code).stands:
            for note in chart_of(code, stand.name, layers=layers).notes:
                assert all(way.tube == "Bb9" for way in note.stopped if "stopping" in way.thumb)


def test_a_horn_without_a_long_tube_or_stopping_slide_has_no_stopped_notes() -> None:
    for code in ("single-bb", "descant-bb-high-f", "single-high-f", "mellophone-f", "wagner-bass-f"):
        assert not any(note.stopped for note in chart_of(code, layers=frozenset({"stopped"})).notes)
        assert not differs(chart_of(code), "all", Teaching(layers=frozenset({"stopped"})))
    assert differs(chart_of("single-f"), "all", Teaching(layers=frozenset({"stopped"})))


def test_low_c_sharp_and_d_of_a_double_are_truer_on_the_b_flat_side() -> None:
    double = chart_of("double-full", "F")
    for written, wanted in (("C#3", "23"), ("D3", "12")):
        way = double.at(written).ways[0]
        assert (way.fingering, way.thumb) == (wanted, ("change",))


def test_a_single_b_flat_horn_cannot_sound_below_written_b2() -> None:
    single = chart_of("single-bb")
    assert [note.written.name for note in single.notes if not note.sounds] == ["F#2", "G2", "Ab2", "A2", "Bb2"]


def test_an_extension_is_fingered_by_what_its_short_valves_really_sound() -> None:
    extended = chart_of("single-bb-f-extension")
    low = {
        note.written.name: (note.ways[0].fingering, round(note.ways[0].cents))
        for note in extended.sounding_notes
        if note.written.midi < 48 and note.ways[0].thumb
    }
    # Computed from the added tubing: B♭ slides on the F tube play 2 +24.5, 12 +78.8, 23 +104.2, 123 +175.3 cents sharp.
    assert low == {"Ab2": ("123", -25), "A2": ("23", 4), "Bb2": ("12", -21), "B2": ("2", 25)}
    assert [note.written.name for note in extended.notes if not note.sounds] == ["F#2", "G2"]


def test_the_stopping_lever_is_no_way_to_an_open_note() -> None:
    for code in ("single-bb-stopping", "double-full-stopping"):
        build = build_named(code)
        for stand in build.stands:
            ways = [(note.written.name, way) for note in chart(build, stand).notes for way in note.ways]
            assert {name for name, way in ways if "stopping" in way.thumb} <= {"Bb2"}  # where nothing else sounds


@pytest.mark.parametrize(("chosen", "below", "first"), [("C5", "B4", "C5"), ("D5", "C#5", "D5"), ("E5", "Eb5", "E5")])
@pytest.mark.parametrize(
    ("code", "stand"),
    [("descant-bb-high-f", ""), ("descant-bb-high-eb", ""), ("triple-full", "Bb"), ("triple-full", "F"),
     ("descant-f-high-f", "")],
)  # fmt: skip
def test_descants_and_triples_cross_over_where_it_is_chosen(
    code: str, stand: str, chosen: str, below: str, first: str
) -> None:
    # Common practice: about C5 to E5. No published chart was found.
    high = chart_of(code, stand, high_from=chosen)
    assert TUBES[high.at(below).ways[0].tube].pedal < 39
    assert all(
        TUBES[note.ways[0].tube].pedal >= 39 for note in high.notes if note.written.midi >= high.at(first).written.midi
    )


def test_a_horn_without_a_high_side_has_nothing_to_cross_to() -> None:
    assert differs(chart_of("descant-bb-high-f"), "all", Teaching(high_from="E5"))
    for code, stand in (("single-f", ""), ("double-full", "F"), ("single-high-f", ""), ("natural-horn", "F")):
        assert not differs(chart_of(code, stand), "all", Teaching(high_from="E5"))


@pytest.mark.parametrize(
    ("kind", "teaching", "shows_more"),
    [
        ("five", Teaching(thumb=False), False),
        ("octave", Teaching(thumb=False), True),
        ("five", Teaching(layers=frozenset({"both"})), False),
        ("octave", Teaching(layers=frozenset({"pedals"})), False),
        ("five", Teaching(layers=frozenset({"stopped"})), True),
        ("all", Teaching(layers=frozenset({"both"})), True),
        ("all", Teaching(layers=frozenset({"pedals"})), True),
    ],
)
def test_what_changes_none_of_the_notes_shown_does_not_differ(kind: str, teaching: Teaching, shows_more: bool) -> None:
    assert differs(chart_of("double-full", "F"), kind, teaching) is shows_more


def test_an_ascending_third_valve_plays_a_alone() -> None:
    rising = chart_of("piston-single-f", form="ascending third")
    plain = chart_of("piston-single-f")
    assert {name: rising.at(name).ways[0].fingering for name in ("A3", "A4", "A5")} == {"A3": "3", "A4": "3", "A5": "3"}
    assert "12" in {way.fingering for way in rising.at("A4").alternatives}
    # What the third valve of a horn in F does not serve stays as it is.
    same = [n.written.name for n in rising.notes if n.usual and n.usual == plain.at(n.written.name).usual]
    assert {"C4", "D4", "E4", "F4", "F#4", "G4", "Bb4", "B4", "C5", "D5"} <= set(same)
    # J. Ericson, "Revisiting the Ascending Third Valve", Horn Matters, 2021: A♭4 is 23.
    assert rising.at("Ab4").ways[0].fingering == "23"


def test_a_fourth_valve_stands_for_13_and_reaches_lower() -> None:
    tuba = chart_of("wagner-bass-f")
    assert tuba.notes[0].written.name == "Eb2"
    assert {name: tuba.at(name).ways[0].fingering for name in ("G2", "D3", "F#2")} == {
        "G2": "4",
        "D3": "4",
        "F#2": "24",
    }
    assert not any(note.ways[0].far_off for note in tuba.sounding_notes)


def test_a_compensating_baritone_writes_its_change_valve_among_the_fingers() -> None:
    low = chart_of("baritone-bb", form="compensating")
    assert low.at("F3").ways[0].fingering == "14"
    assert low.at("F3").ways[0].thumb == ()


def test_a_natural_horn_has_its_open_notes_and_marks_what_the_hand_makes() -> None:
    for stand in build_named("natural-horn").stands:
        natural = chart_of("natural-horn", stand.name)
        opened = [note.written.name for note in natural.sounding_notes if not note.ways[0].hand]
        # The harmonic series above written C2, partials 2 to 16 without the 11th and 13th, which fit no note.
        assert opened == ["C3", "G3", "C4", "E4", "G4", "Bb4", "C5", "D5", "E5", "G5", "Bb5", "B5", "C6"]
        assert {
            note.written.name: note.ways[0].hand for note in natural.notes if note.written.name in ("F4", "F#4")
        } == {
            "F4": "stopped",
            "F#4": "half",
        }
        # "Natural horn hand position and such", naturalhorn.com: A3 stopped; F♯5 and A5 with the hand out.
        assert natural.at("A3").ways[0].hand == "stopped"
        for name, partial in (("F#5", 11), ("A5", 13), ("F5", 11), ("Ab5", 13)):
            first, other = natural.at(name).ways[:2]
            assert (first.hand, other.hand, other.partial) == ("half", "", partial)
        # Nobody is taught to stop a note that is in tune when the bell is open.
        in_tune = [
            note for note in natural.notes if note.ways and not note.ways[0].hand and abs(note.ways[0].cents) < 20
        ]
        assert [note.written.name for note in in_tune if note.alternatives] == []
        assert [way.hand for way in natural.at("Bb4").ways] == ["", "stopped"]  # the 7th, 31 cents flat


def test_a_crook_transposes_its_part() -> None:
    assert chart_of("natural-horn", "D").at("C4").sounding.name == "D3"
    assert chart_of("natural-horn", "Bb").at("C4").sounding.name == "Bb3"
