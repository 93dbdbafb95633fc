"""Charts as MusicXML 4.0 partwise scores, which any notation program opens.

In a file the valves of each note stand in its <fingering>, the thumb beside it in words; the hand on a natural horn, a
second fingering, stopped notes and trills have no sign of their own that programs agree on and are lyrics. What is
engraved here has all of it as lyrics: those are set in lines below the staff, where players look for them.
"""

from xml.etree import ElementTree as ET

from identify.core.fingering.charts import Chart, ChartNote
from identify.core.fingering.words import KINDS, PARTS, beside_fingers, label, legend, spelled_notes, title, trill_label

_BASS_BELOW = 55  # written G3: lower notes of a horn stand in the bass clef
_STAYS_IN_TREBLE = 54  # a chart that goes no lower than written F♯3 keeps to the treble clef, as trumpets do
_ACCIDENTALS = {-1: "flat", 1: "sharp"}
_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def _add(parent: ET.Element, tag: str, text: object = None, **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if text is not None:
        child.text = str(text)
    return child


def instrument(chart: Chart) -> str:
    """The part's name, such as: Horn in F."""
    names = {
        "alto": "Alto horn",
        "mellophone": "Mellophone",
        "mellophonium": "Mellophonium",
        "baritone": "Baritone",
        "flugelhorn": "Flugelhorn",
    }
    first = chart.build.code.removeprefix("marching-").split("-")[0]
    kind = "Wagner tuba" if chart.build.family == "wagner" else names.get(first, "Horn")
    if chart.part.code != chart.build.reads_in(chart.stand):
        return f"{kind}, bass clef"
    return f"{kind} in {chart.part.code.split()[0].replace('b', '♭')}"


def clefs(notes: tuple[ChartNote, ...], always: str = "") -> list[str]:
    """`F` or `G` for each note of a rising chart, or `always` the same."""
    if always:
        return [always] * len(notes)
    if not notes or notes[0].written.midi >= _STAYS_IN_TREBLE:
        return ["G"] * len(notes)
    return ["F" if note.written.midi < _BASS_BELOW else "G" for note in notes]


def _only_clef(chart: Chart) -> str:
    """The one clef of parts that keep to it: only those of horns and Wagner tubas change."""
    if chart.part.code != chart.build.reads_in(chart.stand):
        return "F"
    return "G" if chart.build.family == "other" else ""


def musicxml(chart: Chart, kind: str = "all", *, bare: bool = False, rows_from: tuple[str, ...] = ("G",)) -> str:
    """A kind of chart (`five`, `octave`, `all`; bare, a part of it too) as a MusicXML 4.0 document.

    One whole note a measure, without bar lines. A row begins at each note named in `rows_from`: from G on, the clef
    changes where a row does. `bare` leaves out the title, for engraving below a heading of one's own. Raises
    KeyError for another kind.
    """
    notes = spelled_notes(chart, kind)
    score = ET.Element("score-partwise", {"version": "4.0"})
    if not bare:
        _add(_add(score, "work"), "work-title", f"{title(chart)}: {KINDS[kind]}")
    identification = _add(score, "identification")
    _add(_add(identification, "encoding"), "software", "Horn Cupboard")
    if not bare:
        credit = _add(score, "credit", page="1")
        _add(credit, "credit-type", "title")
        _add(credit, "credit-words", f"{title(chart)}: {KINDS[kind]}", justify="center", valign="top")
        below = _add(score, "credit", page="1")
        _add(
            below,
            "credit-words",
            " · ".join(f"{sign} {words}" for sign, words in legend(chart, kind)),
            justify="center",
            valign="bottom",
        )
    part_list = _add(score, "part-list")
    entry = _add(part_list, "score-part", id="P1")
    _add(entry, "part-name", instrument(chart), print_object="no" if bare else "yes")
    part = _add(score, "part", id="P1")
    clef, in_row = "", 0
    lines = [_below(chart, kind, note, bare=bare) for note in notes]
    used = sorted({line for lyrics in lines for line in lyrics})
    for number, (note, wanted) in enumerate(zip(notes, clefs(notes, _only_clef(chart)), strict=True), start=1):
        measure = _add(part, "measure", number=str(number))
        in_row += 1
        begins = note.written.name[:-1] in rows_from and in_row > 2 and number < len(notes)
        if begins or number == 1:
            _row(measure, first=number == 1)
            in_row = 1
        if number == 1 or wanted != clef:
            _attributes(measure, chart, wanted, first=number == 1)
            clef = wanted
        lyrics = {used.index(line) + 1: said for line, said in lines[number - 1].items()}
        _note(measure, chart, note, lyrics, bare=bare)
        line = _add(measure, "barline", location="right")
        _add(line, "bar-style", "none" if number < len(notes) else "light-heavy")
    ET.indent(score)
    return _DOCTYPE + ET.tostring(score, encoding="unicode") + "\n"


def _row(measure: ET.Element, *, first: bool) -> None:
    if first:
        _add(_add(measure, "print"), "measure-numbering", "none")
    else:
        _add(measure, "print", new_system="yes")


def _attributes(measure: ET.Element, chart: Chart, clef: str, *, first: bool) -> None:
    attributes = _add(measure, "attributes")
    if first:
        _add(attributes, "divisions", 1)
        _add(_add(attributes, "key"), "fifths", 0)
        time = _add(attributes, "time", print_object="no")
        _add(time, "beats", 4)
        _add(time, "beat-type", 4)
    sign = _add(attributes, "clef")
    _add(sign, "sign", clef)
    _add(sign, "line", 2 if clef == "G" else 4)
    if first and chart.part.semitones:
        octaves = -(-chart.part.semitones // 12) if chart.part.semitones < -12 else 0
        transpose = _add(attributes, "transpose")
        _add(transpose, "diatonic", chart.part.steps - 7 * octaves)
        _add(transpose, "chromatic", chart.part.semitones - 12 * octaves)
        if octaves:
            _add(transpose, "octave-change", octaves)


def _below(chart: Chart, kind: str, note: ChartNote, *, bare: bool) -> dict[int, str]:
    """What stands in which line below a note."""
    said = {}
    if bare or not chart.build.valves:
        said[0] = label(chart, note.ways[0])
    if kind in ("all", *PARTS) and note.alternatives:
        said[1] = f"({label(chart, note.alternatives[0])})"
    if note.stopped:
        said[2] = label(chart, note.stopped[0])
    tones = [trill for trill in note.trills if trill.semitones == 2]
    if tones:
        said[3] = trill_label(chart, tones[0])
    return said


def _note(measure: ET.Element, chart: Chart, chart_note: ChartNote, lyrics: dict[int, str], *, bare: bool) -> None:
    way = chart_note.ways[0]
    fingered = bool(chart.build.valves) and not bare
    if fingered and (words := "".join(beside_fingers(chart, way))):
        direction = _add(measure, "direction", placement="below")
        _add(_add(direction, "direction-type"), "words", words)
    note = _add(measure, "note")
    pitch = _add(note, "pitch")
    _add(pitch, "step", chart_note.written.step)
    if chart_note.written.alter:
        _add(pitch, "alter", chart_note.written.alter)
    _add(pitch, "octave", chart_note.written.octave)
    _add(note, "duration", 4)
    _add(note, "type", "whole")
    if chart_note.written.alter:
        _add(note, "accidental", _ACCIDENTALS[chart_note.written.alter])
    if fingered:
        _add(_add(_add(note, "notations"), "technical"), "fingering", way.fingering, placement="below")
    for line, said in lyrics.items():
        lyric = _add(note, "lyric", number=str(line), placement="below")
        _add(lyric, "syllabic", "single")
        _add(lyric, "text", said)
