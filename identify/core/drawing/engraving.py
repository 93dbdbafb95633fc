"""Charts as engraved notation: verovio sets the notes, the signs of its music face as outlines.

What verovio gives is taken apart into a `Picture`, because its own SVG carries a style element, which the
site's content policy blocks, and because the print draws the same picture without a browser.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any
from xml.etree import ElementTree as ET

from identify.core.drawing.notation import musicxml
from identify.core.drawing.picture import Glyph, Mark, Picture, Shape, Words, extent
from identify.core.drawing.rows import evened
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import USUAL, Teaching
from identify.core.fingering.words import KINDS, PARTS, label, spelled_notes, title
from identify.core.horns.builds import Build, Stand
from identify.core.horns.speech import _s

_SVG = "{http://www.w3.org/2000/svg}"
_MOVED = re.compile(r"translate\(\s*(-?[\d.]+)[ ,]+(-?[\d.]+)\s*\)")
_SCALED = re.compile(r"scale\(\s*(-?[\d.]+)")


@dataclass(frozen=True, slots=True)
class Setting:
    """How a chart is set: the notes at which rows begin, words in half staff spaces, room from note to note."""

    rows_from: tuple[str, ...]
    word_size: float
    room: float


# For a desk, a phone (rows of at most six notes, or five by both names) and a music stand: an octave, half of it, or a
# quarter fill each row alike.
SETTINGS = {
    "wide": Setting(("G",), 4.6, 0.21),
    "narrow": Setting(("G", "C#"), 4.5, 0.14),
    "paper": Setting(("G",), 4.6, 0.13),
}
_BY_BOTH_NAMES = {"narrow": ("G", "A#", "C#", "E")}
_PIXELS = 0.048  # CSS pixels for a unit of the engraver: a staff is 35 pixels high
_toolkit_lock = Lock()


def engraved(build: Build, stand: Stand, kind: str = "all", width: str = "wide", teaching: Teaching = USUAL) -> Picture:
    """The chart of a build in a stand, as it is taught, as a picture. Raises KeyError for another kind or width."""
    wanted = chart(build, stand, teaching)
    told = {"chart": title(wanted), "notes": _s((KINDS | PARTS)[kind])}
    named = _s("Fingering chart: %(chart)s, %(notes)s") % told
    return replace(_notes(build, stand, kind, width, teaching), title=named, description=_described(wanted, kind))


@lru_cache(maxsize=256)
def _notes(build: Build, stand: Stand, kind: str, width: str, teaching: Teaching) -> Picture:
    """What is the same in every language."""
    setting = SETTINGS[width]
    wanted = chart(build, stand, teaching)
    rows_from = _BY_BOTH_NAMES.get(width, setting.rows_from) if "both" in teaching.layers else setting.rows_from
    if kind != "all" and width != "narrow":
        rows_from = ()
    drawn = _verovio(musicxml(wanted, kind, bare=True, rows_from=rows_from), setting)
    return _SvgReader(drawn).picture()


def _described(wanted: Chart, kind: str) -> str:
    """The text alternative: each written note with its fingering."""
    said = []
    for note in spelled_notes(wanted, kind):
        words = f"{note.written.display} {label(wanted, note.ways[0], marked=False)}"
        if note.stopped:
            words = _s("%(note)s, stopped %(fingers)s") % {"note": words, "fingers": label(wanted, note.stopped[0])[1:]}
        said.append(words)
    return "; ".join(said)


def _verovio(document: str, setting: Setting) -> ET.Element:
    import verovio

    with _toolkit_lock:  # one at a time: the library makes no promise for threads
        # The path of its fonts is kept a thread: only the one that imported it first would have it.
        verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
        verovio.enableLog(verovio.LOG_OFF)
        toolkit = verovio.toolkit()
        toolkit.setOptions(_options(setting))
        if not toolkit.loadData(document):
            raise ValueError("The engraver cannot read this chart.")
        return ET.fromstring(toolkit.renderToSVG(1))  # noqa: S314 - drawn here, from our own document


def _options(setting: Setting) -> dict[str, Any]:
    return {
        "breaks": "encoded",
        "noJustification": True,
        "header": "none",
        "footer": "none",
        "adjustPageHeight": True,
        "pageWidth": 6000,
        "pageHeight": 30000,
        "pageMarginLeft": 8,
        "pageMarginRight": 8,
        "pageMarginTop": 8,
        "pageMarginBottom": 8,
        "svgRemoveXlink": True,
        "lyricSize": setting.word_size,
        "lyricTopMinMargin": 4.5,
        "defaultBottomMargin": 1.6,
        "spacingLinear": setting.room,
        "spacingNonLinear": 0.6,
        "lyricWordSpace": 2.4,
        "spacingSystem": 5,
        "staffLineWidth": 0.25,
        "ledgerLineThickness": 0.32,
    }


@dataclass(slots=True)
class _Place:
    x: float
    y: float

    def moved(self, element: ET.Element) -> _Place:
        found = _MOVED.search(element.get("transform", ""))
        return _Place(self.x + float(found[1]), self.y + float(found[2])) if found else self


class _SvgReader:
    """Takes verovio's SVG apart; raises ValueError at an element it does not know, so that none is lost."""

    def __init__(self, drawn: ET.Element) -> None:
        self.signs: dict[str, str] = {}
        self.marks: list[Mark] = []
        self.systems: list[range] = []
        self.used: dict[str, str] = {}
        self.rows: dict[tuple[float, float, float], tuple[int, float]] = {}
        for group in drawn.iter(f"{_SVG}defs"):
            for sign in group:
                outline = sign.find(f"{_SVG}path")
                if outline is not None:
                    self.signs[sign.get("id", "")] = outline.get("d", "")
        inner = drawn.find(f"{_SVG}svg")
        if inner is None:
            raise ValueError("The engraver drew nothing.")
        self.height = float(inner.get("viewBox", "0 0 0 0").split()[3])
        self._walk(inner, _Place(0, 0))

    def picture(self) -> Picture:
        """What was drawn, cut at the right end of the longest row and below the last words."""
        marks = evened(self.marks, self.systems)
        ends = [extent(mark.path)[1] for mark in marks if isinstance(mark, Shape)]
        ends += [mark.x + 0.3 * mark.size * len(mark.said) for mark in marks if isinstance(mark, Words)]
        return Picture(max(ends) + 80, self.height, "", "", tuple(marks), dict(self.used), _PIXELS)

    def _walk(self, parent: ET.Element, place: _Place) -> None:
        for element in parent:
            tag = element.tag.removeprefix(_SVG)
            kinds = element.get("class", "").split()
            if tag in {"title", "desc", "style", "defs"} or {"placeholder", "mNum"} & set(kinds):
                continue
            if tag == "g":
                here, begin = place.moved(element), len(self.marks)
                self._walk(element, here)
                if "system" in kinds:
                    self.systems.append(range(begin, len(self.marks)))
                if "note" in kinds:
                    self._words_below(element, here)
            elif tag == "text":
                continue  # read with its note
            else:
                self._mark(tag, element, place)

    def _mark(self, tag: str, element: ET.Element, place: _Place) -> None:
        number = {name: float(value) for name, value in element.items() if _is_number(value)}
        if tag == "use":
            self.marks.append(self._glyph(element, place))
        elif tag == "path":
            weight = number.get("stroke-width", 10.0)
            self._line(_shifted(element.get("d", ""), place), weight)
        elif tag == "rect":
            x, y, w, h = (number[name] for name in ("x", "y", "width", "height"))
            corner = f"M{x + place.x:g} {y + place.y:g}"
            self.marks.append(Shape(f"{corner}h{w:g}v{h:g}h{-w:g}z", fill=1.0))
        elif tag == "polygon":
            points = [point.split(",") for point in element.get("points", "").split()]
            path = "M" + "L".join(f"{float(x) + place.x:g} {float(y) + place.y:g}" for x, y in points) + "z"
            self.marks.append(Shape(path, fill=1.0))
        else:
            raise ValueError(f"The engraver drew a {tag}, which is not expected in a chart.")

    def _line(self, points: list[tuple[float, float]], weight: float) -> None:
        """A line; one that goes on where another ended (a staff from measure to measure) lengthens that one."""
        (x1, y1), (x2, y2) = points[0], points[-1]
        begun = self.rows.get((x1, y1, weight)) if y1 == y2 and len(points) == 2 else None
        if begun is None:
            begun = (len(self.marks), x1)
            self.marks.append(Shape("", line=1.0, weight=weight))
        else:
            del self.rows[(x1, y1, weight)]
            points = [(begun[1], y1), (x2, y2)]
        self.marks[begun[0]] = Shape("M" + "L".join(f"{x:g} {y:g}" for x, y in points), line=1.0, weight=weight)
        self.rows[(x2, y2, weight)] = begun

    def _glyph(self, element: ET.Element, place: _Place) -> Glyph:
        identity = element.get("href", "").removeprefix("#")
        name = identity.partition("-")[0]
        self.used[name] = self.signs[identity]
        at, scale = place.moved(element), _SCALED.search(element.get("transform", ""))
        return Glyph(name, at.x, at.y, float(scale[1]) if scale else 1.0)

    def _words_below(self, note: ET.Element, place: _Place) -> None:
        """The fingerings, set centred below the note head rather than where a syllable would begin."""
        head = next((group for group in note.iter() if "notehead" in group.get("class", "").split()), None)
        if head is None:
            return
        glyph = self._glyph(next(head.iter(f"{_SVG}use")), place)
        low, high = extent(self.used[glyph.name])
        for line, said in enumerate(note.iter(f"{_SVG}text")):
            sizes = [float(part.get("font-size", "0px").removesuffix("px")) for part in said.iter()]
            words = "".join(said.itertext()).strip()
            self.marks.append(
                Words(
                    x=glyph.x + glyph.scale * (low + high) / 2,
                    y=float(said.get("y", "0")) + place.y,
                    said=words,
                    # 1234 and T123* would touch their neighbours; a second fingering is small.
                    size=max(sizes) * min(0.8 if words[0] == "(" else 1.0, 3.6 / len(words)),
                    anchor="middle",
                    bold=line == 0,  # the usual fingering, which every note has
                )
            )


def _is_number(value: str) -> bool:
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", value))


def _shifted(path: str, place: _Place) -> list[tuple[float, float]]:
    """The points of a path of one move and lines, moved."""
    if not re.fullmatch(r"[ML\d\s.,-]+", path):
        raise ValueError(f"The engraver drew a path that is not made of lines: {path[:40]!r}.")
    numbers = [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", path)]
    return [(x + place.x, y + place.y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
