"""Charts as MusicXML 4.0 partwise scores, which any notation program opens.

The fingering stands under each note as a lyric, that of the stopped note below it: that is what notation programs
set in lines below the staff, where players look for it. A <fingering> would be set above each note head, and both
would show it twice.
"""

from xml.etree import ElementTree as ET

from identify.core.fingering.charts import Chart, ChartNote
from identify.core.fingering.words import KINDS, chosen_notes, label, legend, title

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
        "baritone": "Baritone",
        "flugelhorn": "Flugelhorn",
    }
    first = chart.build.code.removeprefix("marching-").split("-")[0]
    kind = "Wagner tuba" if chart.build.family == "wagner" else names.get(first, "Horn")
    return f"{kind} in {chart.part.code.split()[0].replace('b', '♭')}"


def clefs(notes: tuple[ChartNote, ...]) -> list[str]:
    """`F` or `G` for each note of a rising chart."""
    if not notes or notes[0].written.midi >= _STAYS_IN_TREBLE:
        return ["G"] * len(notes)
    return ["F" if note.written.midi < _BASS_BELOW else "G" for note in notes]


def musicxml(chart: Chart, kind: str = "all", *, bare: bool = False, rows_from: str = "C") -> str:
    """A kind of chart (`five`, `octave`, `all`) as a MusicXML 4.0 document.

    One whole note a measure, without bar lines, the usual fingering below. A row begins at each note named in
    `rows_from`. `bare` leaves out the title, for engraving below a heading of one's own. Raises KeyError for
    another kind.
    """
    notes = chosen_notes(chart, kind)
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
    for number, (note, wanted) in enumerate(zip(notes, clefs(notes), strict=True), start=1):
        measure = _add(part, "measure", number=str(number))
        in_row += 1
        begins = note.written.name[:-1] in rows_from and in_row > 2 and number < len(notes)
        if begins or number == 1:
            _row(measure, first=number == 1)
            in_row = 1
        if number == 1 or wanted != clef:
            _attributes(measure, chart, wanted, first=number == 1)
            clef = wanted
        _note(measure, chart, note)
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


def _note(measure: ET.Element, chart: Chart, chart_note: ChartNote) -> None:
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
    for line, ways in enumerate((chart_note.ways, chart_note.stopped), start=1):
        if ways:
            lyric = _add(note, "lyric", number=str(line), placement="below")
            _add(lyric, "syllabic", "single")
            _add(lyric, "text", label(chart, ways[0]))
