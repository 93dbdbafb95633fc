"""Charts against values and programs from outside."""

from __future__ import annotations

import io
import os
import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from identify.core.drawing.notation import musicxml
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import LAYERS, Teaching
from identify.core.fingering.words import KINDS, beside_fingers, build_named, chosen_notes, label, stand_named, title
from identify.core.horns.builds import Build, Stand
from identify.core.horns.catalogue import catalogue
from tests.outside.chart_values import ALSO_ON_F, IMPOSSIBLE, ON_BB, ON_F, OWN_KEY

EVERY = [(form, stand) for form in catalogue().every_form() for stand in form.stands]
NAMES = [f"{form.code} {form.form} {stand.name}" for form, stand in EVERY]


def chart_of(code: str, stand: str = "") -> Chart:
    build = build_named(code)
    return chart(build, stand_named(build, stand))


def usual(of: Chart) -> dict[str, str]:
    return {note.written.name: note.ways[0].fingering for note in of.sounding_notes}


@pytest.mark.parametrize(
    "code", ["single-f", "compact-f", "piston-single-f", "vienna-f", "single-f-eb", "single-f-stopping"]
)
def test_horns_standing_in_the_key_of_their_part_follow_the_long_tube_s_chart(code: str) -> None:
    assert usual(chart_of(code)) == ON_F  # computed; agrees with C. Smalley (CC0), see chart_values.py


@pytest.mark.parametrize("code", ["single-bb", "compact-bb", "marching-horn-bb"])
def test_b_flat_horns_follow_the_nine_foot_chart(code: str) -> None:
    assert usual(chart_of(code)) == ON_BB


def test_a_stopping_lever_adds_one_low_note_to_the_nine_foot_chart() -> None:
    # J. Ericson, "From the Mailbag: Single B-flat, F Extension - Why?", Horn Matters: chromatic down to B flat 2.
    assert usual(chart_of("single-bb-stopping")) == ON_BB | {"Bb2": "123"}
    assert usual(chart_of("compact-bb-stopping")) == ON_BB | {"Bb2": "123"}
    assert label(chart_of("single-bb-stopping"), chart_of("single-bb-stopping").at("Bb2").ways[0]) == "S123*"


@pytest.mark.parametrize(
    "code",
    [
        "alto-horn-eb",
        "alto-horn-f",
        "mellophone-f",
        "mellophone-eb",
        "mellophonium-f",
        "alto-horn-eb-left",
        "marching-mellophone-f",
        "marching-mellophone-g",
        "flugelhorn-bb",
        "baritone-bb",
        "single-high-f",
    ],
)
def test_short_instruments_in_their_own_key_follow_the_trumpet_pattern(code: str) -> None:
    assert usual(chart_of(code)) == OWN_KEY


@pytest.mark.parametrize("stand", ["F", "Bb"])
@pytest.mark.parametrize("code", ["double-full", "double-compensating", "double-full-stopping", "wagner-double"])
def test_a_double_takes_every_fingering_from_the_chart_of_the_side_it_uses(code: str, stand: str) -> None:
    for note in chart_of(code, stand).notes:
        way = note.ways[0]
        table = ON_F if way.tube == "F12" else ON_BB
        assert way.fingering == table[note.written.name]
        assert way.thumb == (() if way.tube == {"F": "F12", "Bb": "Bb9"}[stand] else ("change",))


@pytest.mark.parametrize("written", sorted(ALSO_ON_F))
def test_what_others_teach_on_the_f_tube_is_at_least_an_alternative(written: str) -> None:
    offered = {way.fingering for way in chart_of("single-f").at(written).ways}
    assert set(ALSO_ON_F[written]) <= offered


@pytest.mark.parametrize(("form", "stand"), EVERY, ids=NAMES)
def test_no_impossible_fingering_is_ever_printed(form: Build, stand: Stand) -> None:
    if form.reads_in(stand) != "F" or min(form.valves, default=0) < 0:
        return  # a third valve that raises has fingerings of its own
    for tube, written, fingering in IMPOSSIBLE:
        ways = [way for note in chart(form, stand).notes if note.written.name == written for way in note.ways]
        assert (tube, fingering) not in {(way.tube, way.fingering) for way in ways}


@pytest.fixture(scope="module")
def music21() -> Any:
    import music21

    return music21


@pytest.mark.parametrize(("form", "stand"), EVERY, ids=NAMES)
def test_another_program_reads_the_same_written_and_sounding_notes(music21: Any, form: Build, stand: Stand) -> None:
    of = chart(form, stand)
    # Nothing but the title differs between many of them.
    score = read_by_another(music21, musicxml(of).replace(title(of), ""))
    written = list(score.flatten().notes)
    notes = chosen_notes(of, "all")
    assert [note.pitch.nameWithOctave.replace("-", "b") for note in written] == [n.written.name for n in notes]
    assert _fingerings(of, score) == [label(of, n.ways[0]) for n in notes]
    sounding = [note.pitch for note in score.toSoundingPitch().flatten().notes]
    assert [pitch.midi for pitch in sounding] == [n.sounding.midi for n in notes]


@cache
def read_by_another(music21: Any, document: str) -> Any:
    return music21.converter.parse(document, format="musicxml")


def _fingerings(of: Chart, score: Any) -> list[str]:
    """What another program reads for each note: the thumb's words, its fingering and a star, or what the hand does."""
    notes = list(score.flatten().notes)
    if not of.build.valves:
        return [note.lyrics[0].text for note in notes]
    words = {one.offset: one.content for one in score.flatten().getElementsByClass("TextExpression")}
    said = []
    for note in notes:
        beside = words.get(note.offset, "")
        thumb = beside.removesuffix("*")
        said.append(f"{thumb}{note.articulations[0].fingerNumber}{beside.removeprefix(thumb)}")
    return said


@pytest.fixture(scope="module")
def engraver() -> Any:
    import verovio

    # Kept a thread: where a page of a browser's test was the first to engrave, this thread would have none.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    return verovio.toolkit()


@pytest.mark.parametrize(("form", "stand"), EVERY, ids=NAMES)
def test_the_engraver_opens_every_chart_and_finds_every_note(engraver: Any, form: Build, stand: Stand) -> None:
    of = chart(form, stand)
    for kind in sorted(KINDS):
        assert engraver.loadData(musicxml(of, kind)), engraver.getLog()
        mei = engraver.getMEI()
        notes = chosen_notes(of, kind)
        assert mei.count("<note ") == len(notes) > 0, kind
        if form.valves:
            assert re.findall(r"<fing [^>]*>([^<]*)</fing>", mei) == [note.ways[0].fingering for note in notes], kind
            beside = ["".join(beside_fingers(of, note.ways[0])) for note in notes]
            assert re.findall(r"<dir [^>]*>([^<]*)</dir>", mei) == [words for words in beside if words], kind


# The schema takes attributes from two namespaces whose own schemas lie on the network; these declare what it uses.
NEIGHBOURS = {
    "xml": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink": ("http://www.w3.org/1999/xlink", ("href", "type", "role", "title", "show", "actuate")),
}


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The W3C schema of MusicXML 4.0, which the package musicxml carries."""
    found = find_spec("musicxml")
    if found is None or not found.submodule_search_locations:
        if os.environ.get("CI"):
            pytest.fail("CI is set, but the package musicxml, which carries the schema, is not installed.")
        pytest.skip("the package musicxml, which carries the schema, is not installed")
    from lxml import etree

    folder = tmp_path_factory.mktemp("schema")
    carried = Path(next(iter(found.submodule_search_locations))) / "generate_classes" / "musicxml_4_0.xsd"
    text = carried.read_text(encoding="utf-8")
    for name, (space, attributes) in NEIGHBOURS.items():
        text = text.replace(f"http://www.musicxml.org/xsd/{name}.xsd", f"{name}.xsd")
        declared = "".join(f'<xs:attribute name="{attribute}" type="xs:string"/>' for attribute in attributes)
        (folder / f"{name}.xsd").write_text(
            f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{space}">{declared}</xs:schema>',
            encoding="utf-8",
        )
    (folder / "musicxml.xsd").write_text(text, encoding="utf-8")
    return etree.XMLSchema(etree.parse(folder / "musicxml.xsd"))


@pytest.mark.parametrize(("form", "stand"), EVERY, ids=NAMES)
def test_every_chart_is_valid_against_the_standard_s_schema(schema: Any, form: Build, stand: Stand) -> None:
    from lxml import etree

    for kind in KINDS:
        document = etree.parse(io.BytesIO(musicxml(chart(form, stand), kind).encode()))
        schema.assertValid(document)
    everything = Teaching(layers=frozenset(LAYERS), bass_clef=True)
    schema.assertValid(etree.parse(io.BytesIO(musicxml(chart(form, stand, everything)).encode())))
