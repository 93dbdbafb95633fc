"""What a chart shows besides its open notes, and the bass clef."""

from typing import Any

from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.words import build_named, chosen_notes, differs, label, stand_named, trill_label


def chart_of(code: str, stand: str = "", form: str = "", **taught: Any) -> Chart:
    build = build_named(code, form)
    return chart(build, stand_named(build, stand), Teaching(**taught))


def test_pedals_are_a_layer_below_the_lowest_note_the_shorter_side_first() -> None:
    # M. Kloss, "How to create your own fingering chart", 1998: fundamentals of a part in F at C2 (F) and F2 (B♭).
    low = chart_of("double-full", "F", layers=frozenset({"pedals"}))
    pedals = {n.written.name: label(low, n.ways[0]) for n in low.notes if n.ways[0].partial == 1}
    assert pedals == {"F2": "T0", "E2": "T2", "Eb2": "T1", "D2": "T12", "C#2": "T23", "C2": "0", "B1": "2", "Bb1": "1",
                      "A1": "12", "Ab1": "23"}  # fmt: skip
    single = chart_of("single-bb", layers=frozenset({"pedals"}))
    assert [n.written.name for n in single.notes if not n.sounds] == ["F#2", "G2", "Ab2", "A2", "Bb2"]
    assert not differs(chart_of("mellophone-f"), "all", Teaching(layers=frozenset({"pedals"})))


def test_trills_are_of_the_lip_where_partials_lie_a_tone_apart_else_of_one_finger() -> None:
    double = chart_of("double-full", "F", layers=frozenset({"trills"}))
    assert [(t.semitones, trill_label(double, t)) for t in double.at("C5").trills] == [(2, "0~"), (1, "23-3")]
    assert [(t.semitones, trill_label(double, t)) for t in double.at("F5").trills] == [(2, "T0~"), (1, "T0-2")]
    assert [(t.semitones, trill_label(double, t)) for t in double.at("E4").trills] == [(2, "0-2"), (1, "0-1")]
    for note in double.notes:
        for trill in note.trills:
            if trill.upper is None:
                assert trill.lower.partial in (8, 9)
            else:
                assert trill.lower.thumb == trill.upper.thumb
                assert len(set(trill.lower.fingering) - {"0"} ^ set(trill.upper.fingering) - {"0"}) == 1


def test_a_baritone_in_the_bass_clef_sounds_as_written_with_the_same_fingers() -> None:
    treble, bass = chart_of("baritone-bb"), chart_of("baritone-bb", bass_clef=True)
    # "Baritone horn", Wikipedia: bass clef at concert pitch, open on B♭2, F3 and B♭3.
    assert all(bass.at(name).ways[0].fingering == "0" for name in ("Bb2", "F3", "Bb3"))
    for form in ("", "fourth valve", "compensating"):
        treble, bass = chart_of("baritone-bb", form=form), chart_of("baritone-bb", form=form, bass_clef=True)
        assert [n.written.midi for n in bass.notes] == [n.sounding.midi for n in treble.notes]
        assert [n.ways for n in bass.notes] == [n.ways for n in treble.notes]
    assert [n.written.name for n in chosen_notes(bass, "five")] == ["Bb2", "C3", "D3", "Eb3", "F3"]
    assert chart_of("single-f", bass_clef=True).notes == chart_of("single-f").notes
