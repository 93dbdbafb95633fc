"""Where the parts of a build lie: the one description that every drawing of a whole horn is made from.

Everything is laid out once, for the left hand, seen from the front: thumb and first valve on the right, as the back of
that hand is seen. A horn for the right hand is the mirror of it, and the back of any horn the mirror of its front.

One unit is about 2 mm. The tube that is drawn is as long as the tube of the build (its longest with slides of its
own), a slide as its loop in proportion, one proportion for all.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, dist, hypot, pi, sin

from identify.core.fingering.words import letters
from identify.core.horns.air import TUBES, valve_fraction
from identify.core.horns.builds import Build

Point = tuple[float, float]

UNIT_TUBE = 1770.0  # the 12-foot F tube
SLIDE = 0.16  # of a loop that its slide is drawn long
BELL_LONG, LEAD_LONG = 160.0, 190.0
_STEPS = 32  # points of a turn
ROTOR = 9.0


@dataclass(frozen=True, slots=True)
class Ring:
    """The loop a tube is wound in: middle, half its width and height, how square it is, how far the turns lie apart.

    `begins` is where the bell's throat leaves it, in turns from the right over the bottom.
    """

    x: float
    y: float
    wide: float
    high: float
    square: float
    apart: float
    begins: float


@dataclass(frozen=True, slots=True)
class Bell:
    """Throat, direction (a unit vector), length and half the width of its mouth."""

    throat: Point
    to: Point
    long: float
    half: float


@dataclass(frozen=True, slots=True)
class Slide:
    """A slide hanging from its valve: x of its middle, y of its top, how far it hangs down, its row, half its width.

    Row 0 lies in front; others behind it. `tube` is the side's that it serves, "" of a lever's slide.
    """

    x: float
    y: float
    long: float
    row: int
    half: float
    tube: str = ""


@dataclass(frozen=True, slots=True)
class ValveLies:
    """A valve: its middle, `name` (1 to 4, or the letter of the thumb's), and whether the thumb works it."""

    x: float
    y: float
    name: str
    thumb: bool


@dataclass(frozen=True, slots=True)
class Lying:
    """All parts of a build with their places; `width` and `height` hold them all."""

    width: float
    height: float
    coil: tuple[Point, ...]
    lead: tuple[Point, ...]
    bell: Bell
    valves: tuple[ValveLies, ...]
    slides: tuple[Slide, ...]
    mechanism: str
    mirrored: bool
    crook: bool


_ROUND = Ring(104, 104, 84, 84, 2.0, 7.0, 0.25)
_RINGS = {
    "standard": _ROUND,
    "compact": Ring(104, 112, 70, 70, 2.0, 4.2, 0.25),
    # a tube no longer than a trumpet's
    "small": Ring(104, 112, 40, 40, 2.0, 4.2, 0.25),
    "oval": Ring(92, 168, 62, 96, 2.9, 5.2, 0.0),
    # round, with its bell in front: the tube runs the other way
    "forward": Ring(177, 140, 84, 84, 2.0, 7.0, 0.75),
    "trumpet": Ring(176, 92, 104, 30, 4.0, 7.0, 0.75),
}


def drawn_tube(build: Build) -> str:
    """The tube whose length is drawn: the longest that has slides of its own, or the one that sounds at rest."""
    if not build.valves:
        return build.stands[0].tube
    return max((side.tube for side in build.own_sets), key=lambda tube: -TUBES[tube].pedal)


def tube_long(tube: str) -> float:
    return UNIT_TUBE * TUBES[tube].length_over(TUBES["F12"])


def lying(build: Build) -> Lying:
    """Where everything of a build lies, in the first of the shapes it is met in."""
    wrap = _ring(build)
    ring = _RINGS[wrap]
    bell, lead = _bell(build, wrap, ring), _lead(wrap, ring)
    left = tube_long(drawn_tube(build)) - bell.long - _length(lead)
    valves = tuple(_valves(build, wrap, ring))
    slides = tuple(_slides(build, valves))
    wide, high = {"oval": (214, 290), "trumpet": (330, 176), "forward": (308, 296)}.get(wrap, (292, 296))
    return Lying(
        width=wide,
        height=high,
        coil=tuple(_wound(ring, max(left, 60.0))),
        lead=lead,
        bell=bell,
        valves=valves,
        slides=slides,
        mechanism=build.mechanism[0] if build.mechanism else "",
        mirrored=build.hand[:1] == ("right",),
        crook=build.crooked,
    )


def _ring(build: Build) -> str:
    """The ring a build is wound in, by its name among _RINGS."""
    if (build.wrap[0], build.bell[0]) == ("standard", "front"):
        return "forward"
    return "small" if (build.wrap[0], drawn_tube(build)) == ("compact", "Bb4") else build.wrap[0]


def _length(points: tuple[Point, ...]) -> float:
    return sum(dist(one, other) for one, other in pairwise(points))


def _on(ring: Ring, turns: float) -> Point:
    """The point of the spiral after so many turns from the bell inwards."""
    angle = 2 * pi * (ring.begins + turns)
    inward = ring.apart * turns
    across, up = cos(angle), sin(angle)
    n = 2.0 / ring.square
    x = abs(across) ** n * (1 if across >= 0 else -1)
    y = abs(up) ** n * (1 if up >= 0 else -1)
    return ring.x + (ring.wide - inward) * x, ring.y + (ring.high - inward) * y


def _wound(ring: Ring, long: float) -> Iterator[Point]:
    """Points of the spiral until so much of it is drawn."""
    here, done, step = _on(ring, 0.0), 0.0, 0
    yield here
    while done < long:
        step += 1
        there = _on(ring, step / _STEPS)
        part = dist(here, there)
        if done + part > long:
            share = (long - done) / part
            there = here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1])
        yield there
        done, here = done + part, there


def _bell(build: Build, wrap: str, ring: Ring) -> Bell:
    half = {"horn": 62.0, "wagner": 48.0}.get(build.family, 52.0)
    if drawn_tube(build) == "Bb4":
        half = 36.0
    to = {"oval": (0.05, -1.0), "trumpet": (-1.0, 0.0), "forward": (-1.0, 0.0)}.get(wrap, (1.0, 0.22))
    size = hypot(*to)
    return Bell(_on(ring, 0.0), (to[0] / size, to[1] / size), 132.0 if wrap == "oval" else BELL_LONG, half)


def _lead(wrap: str, ring: Ring) -> tuple[Point, ...]:
    """The mouthpipe, from the mouthpiece to the valves."""
    curve: tuple[Point, Point, Point, Point]
    if wrap == "oval":
        curve = ((8, 62), (34, 50), (44, 80), (46, 140))
    elif wrap == "trumpet":
        curve = ((318, 78), (290, 78), (250, 78), (216, 86))
    else:
        r = ring.wide
        curve = (
            (ring.x + r + 34, ring.y - r * 0.62),
            (ring.x + r * 0.6, ring.y - r * 1.42),
            (ring.x - r * 0.95, ring.y - r * 1.1),
            (ring.x - r * 0.68, ring.y - 16),
        )
    return tuple(_curve(*curve))


def _curve(a: Point, b: Point, c: Point, d: Point) -> Iterator[Point]:
    for step in range(21):
        t = step / 20
        s = 1 - t
        yield (
            s**3 * a[0] + 3 * s * s * t * b[0] + 3 * s * t * t * c[0] + t**3 * d[0],
            s**3 * a[1] + 3 * s * s * t * b[1] + 3 * s * t * t * c[1] + t**3 * d[1],
        )


def _valves(build: Build, wrap: str, ring: Ring) -> Iterator[ValveLies]:
    """From left to right: the last finger's first, the thumb's at the right end."""
    fingers = build.fingered
    names = [*(str(place) for place in range(fingers, 0, -1)), *letters(build).values()]
    apart = 24.0 if len(names) < (4 if wrap == "oval" else 5) else 21.0
    y = {"oval": ring.y - 18, "trumpet": ring.y}.get(wrap, ring.y - 16)
    begin = ring.x - apart * (len(names) - 1) / 2
    for place, name in enumerate(names):
        yield ValveLies(begin + place * apart, y, name, place >= fingers)


def _slides(build: Build, valves: tuple[ValveLies, ...]) -> Iterator[Slide]:
    """The rows of the finger valves as they lie, and the slides that a lever adds."""
    sets = build.rows
    half = 4.5 if len(sets) == 1 else 2.6
    for row, side in enumerate(sets):
        whole = side.set_length * tube_long(side.tube)
        for place, semitones in enumerate(build.valves, start=1):
            valve = next(one for one in valves if one.name == str(place))
            shift = 7.4 * (row - (len(sets) - 1) / 2)
            long = SLIDE * abs(valve_fraction(semitones)) * whole
            yield Slide(valve.x + shift, valve.y, long, row, half, side.tube)
    worked = list(zip((one for one in valves if one.thumb), build.thumb_levers, strict=True))
    worked += [(one, lever) for lever in build.levers for one in valves if one.name == lever.name]
    for valve, lever in worked:
        if lever.does == "stopping":
            yield Slide(valve.x, valve.y, SLIDE * valve_fraction(lever.semitones) * tube_long(lever.to), 0, 4.5)
        elif lever.does == "extension":
            added = tube_long(lever.to) - tube_long(build.side(lever.to).through)
            yield Slide(valve.x, valve.y, SLIDE * added, 0, 4.5)


def turns(build: Build) -> int:
    """How many turns of tube are seen, rounded up."""
    return ceil((len(lying(build).coil) - 1) / _STEPS)
