from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from threading import Thread
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from identify.core.drawing.engraving import SETTINGS, _notes, engraved
from identify.core.drawing.hand import hand
from identify.core.drawing.notation import clefs
from identify.core.drawing.picture import Glyph, Picture, Shape, Words, extent, segments, svg
from identify.core.drawing.unrolled import about_sets, described, drawing, unrolled
from identify.core.fingering.charts import chart
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.words import build_named, chosen_notes, label, stand_named
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, Stand
from identify.core.horns.catalogue import catalogue

EVERY = [(form, stand) for form in catalogue().every_form() for stand in form.stands]


@cache
def different_charts() -> list[tuple[Build, Stand]]:
    """One horn for every different row of notes with their clefs and fingerings, which is all that an engraving
    depends on."""
    found: dict[tuple[Any, ...], tuple[Build, Stand]] = {}
    for pair in EVERY:
        of = chart(*pair)
        notes = [(one.written.name, *(label(of, way) for way in one.ways)) for one in of.sounding_notes]
        found.setdefault((of.build.family, of.part.code == of.build.reads_in(of.stand), *notes), pair)
    return list(found.values())


SVG = "{http://www.w3.org/2000/svg}"


def horn(code: str, stand: str = "", form: str = "") -> tuple[Build, Stand]:
    build = build_named(code, form)
    return build, stand_named(build, stand)


def bars(picture: Picture) -> list[float]:
    """Lengths of the filled slides in the order drawn."""
    found = []
    for mark in picture.marks:
        if isinstance(mark, Shape) and mark.fill and "h" in mark.path and mark.path.endswith("Z"):
            low, high = extent(mark.path)
            found.append(high - low)
    return found


def test_path_data_is_read_into_absolute_segments() -> None:
    assert list(segments("M1 2l3 4h-1v2z")) == [("M", 1, 2), ("L", 4, 6), ("L", 3, 6), ("L", 3, 8), ("Z",)]
    assert list(segments("m1,1c0 1 1 1 2 0s1-1 2 0")) == [
        ("M", 1, 1),
        ("C", 1, 2, 2, 2, 3, 1),
        ("C", 4, 0, 4, 0, 5, 1),
    ]
    assert list(segments("M0 0q3 3 6 0")) == [("M", 0, 0), ("C", 2, 2, 4, 2, 6, 0)]
    with pytest.raises(ValueError, match="Cannot read"):
        list(segments("M0 0A1 1 0 0 0 1 1"))


def test_a_drawing_is_written_with_each_length_in_at_most_two_places() -> None:
    half = Shape("M0 0L9 9", fill=0.5, line=0.25, weight=1.5, dashed=True)
    marks = (half, Shape("M0 0", fill=1, line=1, weight=2), Glyph("E0A2", 7, 3.456, 0.1), Words(0, -20.5, "T12", 10))

    said = svg(Picture(100, 40.5, "A chart", "Of one note", marks, {"E0A2": "M1 1"}, scale=2), "small")

    assert 'width="200" height="81" viewBox="0 0 100 40.5"' in said
    assert (
        '<path d="M0 0L9 9" fill="currentColor" fill-opacity="0.5" stroke="currentColor" stroke-width="1.5" '
        'stroke-opacity="0.25" stroke-dasharray="4.5 3"/>'
        '<path d="M0 0" fill="currentColor" stroke="currentColor" stroke-width="2"/>'
        '<use href="#small-E0A2" fill="currentColor" transform="translate(7,3.46) scale(0.1)"/>'
        '<text x="0" y="-20.5" font-size="10" text-anchor="start" fill="currentColor">T12</text></svg>'
    ) in said


@pytest.mark.parametrize("width", sorted(SETTINGS))
@pytest.mark.parametrize("kind", ["five", "octave", "all"])
def test_an_engraving_has_a_head_and_a_fingering_for_every_note(width: str, kind: str) -> None:
    build, stand = horn("double-full", "Bb")
    of = chart(build, stand)
    picture = engraved(build, stand, kind, width)
    said = [mark.said for mark in picture.marks if isinstance(mark, Words)]
    usual = [words for words in said if not words.startswith("(")]
    assert usual == [label(of, note.ways[0]) for note in chosen_notes(of, kind)]
    heads = [mark for mark in picture.marks if isinstance(mark, Glyph) and mark.name == "E0A2"]  # SMuFL: whole note
    assert len(heads) == len(usual)


def test_a_full_chart_shows_a_second_fingering_small_below_the_first() -> None:
    of = chart(*horn("double-full", "F"))
    words = [mark for mark in engraved(of.build, of.stand).marks if isinstance(mark, Words)]
    second = [mark for mark in words if mark.said.startswith("(")]
    assert [mark.said for mark in second] == [
        f"({label(of, note.alternatives[0])})" for note in of.sounding_notes if note.alternatives
    ]
    smallest = min(mark.size for mark in words if mark.bold and len(mark.said) < 4)
    assert all(mark.size < smallest and not mark.bold for mark in second)
    few = engraved(of.build, of.stand, "octave")
    assert not any(mark.said.startswith("(") for mark in few.marks if isinstance(mark, Words))


def test_black_keys_stand_by_both_names_where_both_are_asked_for() -> None:
    pair = horn("single-f")
    drawn = engraved(*pair, "all", "wide", Teaching(layers=frozenset({"both"})))
    assert "C♯4 12; D♭4 12; D4 1; D♯4 2; E♭4 2" in drawn.description


HEADS = {"E0A2"}  # SMuFL: whole note
CLEFS = {"E050", "E07A", "E062", "E07C"}


@pytest.mark.parametrize("layers", [frozenset[str](), frozenset({"pedals"}), frozenset({"both", "stopped", "trills"})])
@pytest.mark.parametrize("width", sorted(SETTINGS))
def test_no_clef_touches_a_note_or_its_accidental(width: str, layers: frozenset[str]) -> None:
    for pair in (horn("single-f"), horn("double-full", "Bb"), horn("wagner-bass-f"), horn("natural-horn", "F")):
        picture = engraved(*pair, "all", width, Teaching(layers=layers))
        signs = [mark for mark in picture.marks if isinstance(mark, Glyph)]
        wide = {name: extent(path) for name, path in picture.glyphs.items()}
        spans = []
        for mark in signs:
            low, high = wide[mark.name]
            spans.append((mark, mark.x + low * mark.scale, mark.x + high * mark.scale))
        for clef, left, right in spans:
            if clef.name in CLEFS:
                for other, begins, ends in spans:
                    if other is not clef and abs(other.y - clef.y) < 1000:
                        # Half a staff space between the two, of four in a staff of 729 units.
                        assert ends + 91 <= left or begins >= right, (pair[0].code, width, clef, other)


def test_rows_hold_an_octave_or_half_of_it() -> None:
    pair = horn("double-full", "F")
    for width, most in (("wide", 13), ("paper", 13), ("narrow", 7)):
        picture = engraved(*pair, "all", width)
        usual = [mark for mark in picture.marks if isinstance(mark, Words) and mark.bold]
        rows = [[mark.said for mark in usual if mark.y == y] for y in sorted({mark.y for mark in usual})]
        assert {len(row) for row in rows[1:-1]} == {most - 1}
        assert max(len(row) for row in rows) <= most
        assert min(len(row) for row in rows) >= 6


def staves(picture: Picture) -> list[tuple[float, float]]:
    """Where the lines of the staves begin and end, those of one staff once."""
    lines = [extent(m.path) for m in picture.marks if isinstance(m, Shape) and m.line and "h" not in m.path]
    begin = min(low for low, _ in lines)
    return sorted({(low, high) for low, high in lines if low == begin})


@pytest.mark.parametrize("width", sorted(SETTINGS))
def test_all_staves_of_a_chart_are_equally_long(width: str) -> None:
    for layers in (frozenset[str](), frozenset({"both", "stopped", "trills", "pedals"})):
        for pair in (horn("double-full", "F"), horn("natural-horn", "F"), horn("mellophone-f"), horn("baritone-bb")):
            assert len(staves(engraved(*pair, "all", width, Teaching(layers=layers)))) == 1, pair[0].code


def test_the_usual_way_of_every_note_is_bold_and_nothing_else_the_hand_of_a_natural_horn_too() -> None:
    for pair in (horn("natural-horn", "F"), horn("double-full", "F")):
        of = chart(*pair, Teaching(layers=frozenset({"stopped", "trills"})))
        words = [m for m in engraved(*pair, "all", "wide", of.teaching).marks if isinstance(m, Words)]
        assert [m.said for m in words if m.bold] == [label(of, note.ways[0]) for note in chosen_notes(of, "all")]


def test_stopped_notes_have_a_line_of_their_own() -> None:
    build, stand = horn("double-full", "F")
    taught = Teaching(layers=frozenset({"stopped"}))
    of = chart(build, stand, taught)
    picture = engraved(build, stand, "octave", "wide", taught)
    words = [mark for mark in picture.marks if isinstance(mark, Words)]
    lines = sorted({mark.y for mark in words})
    assert len(lines) == 2
    assert [mark.said for mark in words if mark.y == lines[1]] == [
        label(of, note.stopped[0]) for note in chosen_notes(of, "octave")
    ]
    assert "C5 T0, stopped 2" in picture.description


def test_words_stand_below_their_note_and_do_not_touch_the_next() -> None:
    for build, stand in different_charts():
        for width in SETTINGS:
            words = [mark for mark in engraved(build, stand, "all", width).marks if isinstance(mark, Words)]
            for left, right in pairwise(words):
                if left.y == right.y:
                    half = 0.29 * (len(left.said) * left.size + len(right.said) * right.size)
                    assert right.x - left.x > half, (build.code, width, left.said, right.said)


def test_a_phone_s_rows_fit_its_width_with_words_of_readable_size() -> None:
    for build, stand in different_charts():
        picture = engraved(build, stand, "all", "narrow")
        shrunk = 326 / picture.width  # CSS pixels a unit on a screen 360 wide
        words = [mark for mark in picture.marks if isinstance(mark, Words)]
        assert min(mark.size for mark in words if mark.bold) * shrunk >= 10, build.code
        assert min(mark.size for mark in words) * shrunk >= 8, build.code  # a second fingering is small


def test_the_bass_clef_serves_below_written_g3_and_only_where_a_horn_goes_that_low() -> None:
    clefs = {"E062": "bass", "E07C": "bass", "E050": "treble", "E07A": "treble"}  # SMuFL: clefs and their changes
    low = engraved(*horn("single-f"), "all", "wide")
    assert {clefs[m.name] for m in low.marks if isinstance(m, Glyph) and m.name in clefs} == {"bass", "treble"}
    short = engraved(*horn("mellophone-f"), "all", "wide")
    assert {clefs[m.name] for m in short.marks if isinstance(m, Glyph) and m.name in clefs} == {"treble"}


def test_any_thread_can_engrave() -> None:
    _notes.cache_clear()
    widths: list[float] = []
    for code in ("single-f", "single-bb"):
        thread = Thread(target=lambda code=code: widths.append(engraved(*horn(code)).width))
        thread.start()
        thread.join()
    assert len(widths) == 2


def test_no_drawing_carries_style_or_script_and_each_is_named() -> None:
    engravings = (svg(engraved(*pair, "five", "narrow"), "chart") for pair in different_charts())
    for said in (*(drawing(*pair) for pair in EVERY), *engravings):
        root = ET.fromstring(said)  # noqa: S314
        tags = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert tags <= {"svg", "title", "desc", "defs", "path", "use", "text"}
        assert not re.search(r"\bstyle=|\bon\w+=|https?://(?!www\.w3\.org/2000/svg)", said)
        named = {element.get("id") for element in root.iter()} - {None}
        assert set(root.get("aria-labelledby", "").split()) <= named
        assert {use.get("href", "").removeprefix("#") for use in root.iter(f"{SVG}use")} <= named


def test_the_drawn_hand_numbers_the_fingers_of_the_hand_that_plays() -> None:
    double, mellophone = hand(build_named("double-full")), hand(build_named("mellophone-f"))
    assert [mark.said for mark in double.marks if isinstance(mark, Words)] == ["1", "2", "3", "T"]
    assert [mark.said for mark in mellophone.marks if isinstance(mark, Words)] == ["1", "2", "3"]
    said = "The left hand: 1 index finger, 2 middle finger, 3 ring finger, T thumb."
    assert double.description == said
    assert "The right hand" in mellophone.description
    assert [mark.said for mark in hand(build_named("double-full"), thumb=False).marks if isinstance(mark, Words)] == [
        "1",
        "2",
        "3",
    ]
    first = [next(m.x for m in of.marks if isinstance(m, Words)) for of in (double, mellophone)]
    assert first[0] > double.width / 2 > first[1]
    four = hand(build_named("baritone-bb", "compensating"))
    assert [mark.said for mark in four.marks if isinstance(mark, Words)] == ["1", "2", "3", "4"]


def test_a_second_set_is_drawn_as_long_as_it_is() -> None:
    for code, ratio in (("double-full", 1.335), ("double-compensating", 0.335)):
        # Full and compensating second sets relative to the B♭ set: computed, 2^(5/12) and that less 1.
        build, stand = horn(code, "Bb")
        drawn = bars(unrolled(build, stand))
        measured = [second / first for first, second in zip(drawn[:3], drawn[3:6], strict=True)]
        assert measured == pytest.approx([ratio] * 3, abs=0.001)


def test_the_longest_tube_fills_the_drawing_and_the_others_are_to_scale() -> None:
    build, stand = horn("triple-full", "F")
    tubes = [mark for mark in unrolled(build, stand).marks if isinstance(mark, Shape) and "Q" in mark.path]
    lengths = [extent(mark.path)[1] - 6 for mark in tubes]
    wanted = [TUBES["F12"].length_over(TUBES[code]) for code in ("F12", "Bb9", "F6")]
    assert [lengths[0] / length for length in lengths] == pytest.approx(wanted, rel=1e-4)


def test_the_words_say_why_a_compensating_set_is_short() -> None:
    build, stand = horn("double-compensating", "F")
    said = " ".join(about_sets(build))
    assert "0.33 times as long" in said
    assert "the air first passes the 9-foot B♭ slides" in said
    assert said in described(build, stand)


def test_everything_drawn_lies_inside_its_frame() -> None:
    engravings = (engraved(*pair, "all", "paper") for pair in different_charts())
    for picture in (*(unrolled(*pair) for pair in EVERY), *engravings):
        for mark in picture.marks:
            if isinstance(mark, Shape):
                low, high = extent(mark.path)
                assert low >= 0
                assert high <= picture.width
            else:
                assert 0 <= mark.x <= picture.width
                assert 0 <= mark.y <= picture.height


def test_low_notes_stand_in_the_bass_clef_up_to_written_g3_on_a_chart_that_goes_below_the_staff():
    found = chart(*horn("double-full", "F"))
    by_note = dict(zip((note.written.midi for note in found.sounding_notes), clefs(found.sounding_notes), strict=True))

    assert (by_note[54], by_note[55], by_note[56]) == ("F", "G", "G")
    high = tuple(note for note in found.sounding_notes if note.written.midi >= 54)
    assert set(clefs(high)) == {"G"}
    assert clefs(()) == []


def test_the_unrolled_horn_names_each_tube_in_bold_over_it():
    drawn = [mark for mark in unrolled(*horn("double-full", "F")).marks if isinstance(mark, Words)]

    assert [mark.said for mark in drawn if mark.bold] == [TUBES["F12"].words, TUBES["Bb9"].words]
