"""A whole horn from the front or from the back, drawn from where its parts lie."""

from collections.abc import Iterable
from dataclasses import replace
from math import cos, pi, sin

from identify.core.drawing.layout import side_words
from identify.core.drawing.lying import ROTOR, Lying, Point, Slide, ValveLies, lying, turns
from identify.core.drawing.picture import Mark, Picture, Segment, Shape, Words, circle, segments
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build
from identify.core.horns.speech import _s, capital

FRONT, BACK = "front", "back"
MARKED = "marked"
_INK, _BEHIND = 1.0, 0.45
_LINE = 3.2
_PART = 124.0
SHAPES = {
    "standard": "wound in a wide round hoop",
    "compact": "wound small and tight",
    "oval": "wound in a tall oval",
    "trumpet": "long, like a trumpet",
}
KINDS = {"rotary": "rotary valves", "piston": "piston valves", "double-piston": "double-piston valves"}
BELLS = {"back": "a wide bell below", "up": "a bell that points up", "front": "a bell that points forward"}


def whole(build: Build, side: str = FRONT, *, numbered: bool = True, marked: str = "") -> Picture:
    """The drawing of a build from a side; `numbered` writes on each valve which finger works it.

    Slides that serve the tube `marked` are the part of that name, and its key stands below the longest.
    """
    lies = lying(build)
    pen = _Pen(lies, side, marked)
    pen.line(lies.coil, "tube", _LINE if build.wrap[0] != "compact" else 2.2)
    pen.line(lies.lead, "tube", _LINE)
    pen.mouthpiece()
    pen.bell()
    for slide in lies.slides:
        pen.slide(slide)
    pen.name_marked()
    for valve in lies.valves:
        pen.valve(valve, numbered=numbered)
    if lies.crook:
        pen.crook()
    told = _s("%(kind)s, from the back") if side == BACK else _s("%(kind)s, from the front")
    return Picture(
        lies.width, lies.height, told % {"kind": capital(_s(build.name))}, described(build), tuple(pen.marks)
    )


def part_of(build: Build, parts: frozenset[str], words: str, *, marked: str = "") -> Picture:
    """Only some parts of a build's front, cut out of the whole; `words` is the text alternative."""
    drawn = whole(build, numbered=False, marked=marked)
    shapes = [mark for mark in drawn.marks if isinstance(mark, Shape) and mark.part in parts | {MARKED}]
    named = [mark for mark in drawn.marks if isinstance(mark, Words)]
    points = [point for shape in shapes for one in segments(shape.path) for point in _points(one)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    # As wide a picture for few parts as for many, so that all are to one scale.
    wide = max(max(xs) - min(xs) + 8, _PART)
    left, top = (min(xs) + max(xs) - wide) / 2, min(ys) - 4
    high = max(*ys, *(word.y for word in named)) + 4 - top
    moved = (replace(shape, path=_moved(shape.path, left, top)) for shape in shapes)
    written = (replace(word, x=word.x - left, y=word.y - top) for word in named)
    return Picture(wide, high, words, words, (*moved, *written))


def _points(segment: Segment) -> list[Point]:
    """The points of a segment."""
    numbers = segment[1:]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _moved(path: str, left: float, top: float) -> str:
    said = []
    for one in segments(path):
        said.append(one[0] + " ".join(f"{x - left:.1f} {y - top:.1f}" for x, y in _points(one)))
    return "".join(said)


def described(build: Build) -> str:
    """The drawing in words."""
    rows, wound = build.slide_sets, turns(build)
    about = _s("about %(turns)s turns of tube") if wound > 1 else _s("about %(turns)s turn of tube")
    said = [_s(SHAPES[build.wrap[0]]), about % {"turns": wound}, _s(BELLS[build.bell[0]])]
    if not build.valves:
        said.append(_s("no valves"))
    else:
        said.append(f"{build.valve_count} {_s(KINDS[build.mechanism[0]])}")
        if rows > 1:
            front = {"rows": rows, "side": side_words(build, build.rows[0])}
            said.append(_s("%(rows)s rows of slides, that of the %(side)s in front") % front)
        else:
            said.append(_s("1 row of slides"))
        said.append(_s("played with the left hand") if build.hand[0] == "left" else _s("played with the right hand"))
    if thumbs := len(build.thumb_levers):
        lie = _s("%(number)s thumb levers beside the first valve")
        said.append(lie % {"number": thumbs} if thumbs > 1 else _s("1 thumb lever beside the first valve"))
    return f"{capital(_s(', ').join(said))}."


class _Pen:
    """Draws the parts; what lies on the far side is fainter."""

    def __init__(self, lies: Lying, side: str, marked: str) -> None:
        self.lies, self.back, self.marked = lies, side == BACK, marked
        self.flipped = lies.mirrored != self.back
        self.marks: list[Mark] = []

    def _x(self, x: float) -> float:
        return self.lies.width - x if self.flipped else x

    def _path(self, points: Iterable[Point], *, closed: bool = False) -> str:
        said = "L".join(f"{self._x(x):.1f} {y:.1f}" for x, y in points)
        return f"M{said}{'Z' if closed else ''}"

    def _ink(self, in_front: bool) -> float:
        return _INK if in_front != self.back else _BEHIND

    def line(self, points: Iterable[Point], part: str, weight: float, ink: float = _INK) -> None:
        self.marks.append(Shape(self._path(points), line=ink, weight=weight, part=part))

    def _box(self, x: float, y: float, wide: float, high: float, part: str, ink: float, *, fill: float = 0.0) -> None:
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        path = self._path(corners, closed=True)
        self.marks.append(Shape(path, fill=fill * ink, line=ink, weight=2.0, part=part))

    def mouthpiece(self) -> None:
        (ax, ay), (bx, by) = self.lies.lead[:2]
        far = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
        ux, uy = (bx - ax) / far, (by - ay) / far
        self.line(((ax - 7 * uy, ay + 7 * ux), (ax + 7 * uy, ay - 7 * ux)), "mouthpiece", 5.0)

    def bell(self) -> None:
        bell = self.lies.bell
        (x, y), (ux, uy) = bell.throat, bell.to
        one, other = [], []
        for step in range(21):
            t = step / 20
            half = 1.6 + 9 * t + (bell.half - 10.6) * t**5
            px, py = x + bell.long * t * ux, y + bell.long * t * uy
            one.append((px - half * uy, py + half * ux))
            other.append((px + half * uy, py - half * ux))
        self.line(one, "bell", _LINE)
        self.line(other, "bell", _LINE)
        end = (x + bell.long * ux, y + bell.long * uy)
        self.line(tuple(_mouth(end, (ux, uy), bell.half)), "bell", _LINE)

    def slide(self, slide: Slide) -> None:
        """A U that hangs from its valve; its legs are as long as the slide."""
        top = slide.y + (22 if self.lies.mechanism != "rotary" else ROTOR)
        left, right = self._x(slide.x + slide.half), self._x(slide.x - slide.half)
        end, round_ = top + slide.long, top + slide.long + 1.33 * slide.half
        path = (
            f"M{left:.1f} {top:.1f}L{left:.1f} {end:.1f}C{left:.1f} {round_:.1f} {right:.1f} {round_:.1f} "
            f"{right:.1f} {end:.1f}L{right:.1f} {top:.1f}"
        )
        part = MARKED if self.marked and slide.tube == self.marked else "slides"
        self.marks.append(Shape(path, line=self._ink(slide.row == 0 or part == MARKED), weight=2.4, part=part))

    def name_marked(self) -> None:
        """The key of the marked tube below its longest slide, away from the row beside it."""
        if hang := [one for one in self.lies.slides if self.marked and one.tube == self.marked]:
            slide = max(hang, key=lambda one: one.long)
            beside = [one for one in self.lies.slides if abs(one.x - slide.x) < 2 * ROTOR]
            low = max(one.y + one.long for one in beside)
            first = (slide.x == min(one.x for one in beside)) != self.flipped
            x, anchor = self._x(slide.x) + (4 if first else -4), "end" if first else "start"
            self.marks.append(
                Words(x, low + 27, TUBES[self.marked].key.replace("b", "♭"), 15, anchor=anchor, bold=True)
            )

    def valve(self, valve: ValveLies, *, numbered: bool) -> None:
        lever = self._ink(True)
        if self.lies.mechanism == "rotary":
            self.marks.append(Shape(circle(self._x(valve.x), valve.y, ROTOR), line=_INK, weight=2.6, part="valves"))
            self._lever(valve, lever)
        elif self.lies.mechanism == "piston":
            self._box(valve.x - 8, valve.y - 22, 16, 44, "valves", _INK)
            self.line(((valve.x, valve.y - 22), (valve.x, valve.y - 31)), "levers", 2.6)
            self.line(((valve.x - 7, valve.y - 32), (valve.x + 7, valve.y - 32)), "levers", 4.5)
        else:
            for across in (-9, 2):
                self._box(valve.x + across, valve.y - 12, 7, 34, "valves", _INK)
            self._lever(valve, lever)
        if numbered:
            low = 5.4 if self.lies.mechanism != "double-piston" else -22.6
            self.marks.append(Words(self._x(valve.x), valve.y + low, valve.name, 15, anchor="middle", bold=True))

    def _lever(self, valve: ValveLies, ink: float) -> None:
        x, y = valve.x, valve.y
        if valve.thumb:
            self.line(((x + 4, y + 8), (x + 12, y + 17)), "levers", 2.6, ink)
            self._box(x + 9, y + 17, 9, 20, "levers", ink, fill=0.25)
        else:
            self.line(((x, y - ROTOR), (x, y - 19)), "levers", 2.6, ink)
            self._box(x - 6, y - 37, 12, 18, "levers", ink, fill=0.25)

    def crook(self) -> None:
        (x, y) = self.lies.lead[3]
        self.marks.append(Shape(circle(self._x(x), y + 20, 17), line=_INK, weight=_LINE, part="crook"))


def _mouth(end: Point, to: Point, half: float) -> Iterable[Point]:
    """The mouth of a bell: an ellipse across its direction, seen a little from the side."""
    (x, y), (ux, uy) = end, to
    for step in range(33):
        angle = 2 * pi * step / 32
        along, across = 0.2 * half * cos(angle), half * sin(angle)
        yield x + along * ux - across * uy, y + along * uy + across * ux
