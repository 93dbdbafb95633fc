"""The horn unrolled: each of its tubes as one straight line, the slides of its valves beside it, all to one scale.

Lengths are ratios to the longest tube; nothing here is a measure in millimetres, which bends and bells would spoil.
A valve slide that belongs to the side is filled. One that is borrowed from another side is an outline, and a
compensating set shows as what it is: the other side's slide, and a short filled piece that makes up the difference.
"""

from identify.core.drawing.picture import Mark, Picture, Shape, Words, svg
from identify.core.horns.air import TUBES, valve_fraction
from identify.core.horns.builds import Build, Lever, Side, Stand
from identify.core.horns.speech import _s, figure

_WIDTH = 360.0
_LEFT, _TUBE = 6.0, 340.0  # the longest tube is that long
_BAR = 12.0  # height of a slide
_SMALL, _PLAIN = 12.0, 13.0
_PLACES = ("1st", "2nd", "3rd", "4th")
_GAP = 12.0


def unrolled(build: Build, stand: Stand) -> Picture:
    """The drawing of a build in a stand, 360 units wide; the side that sounds at rest comes first."""
    sides = sorted(build.sides, key=lambda side: side.tube != stand.tube)
    if build.crooked:
        sides = [build.side(stand.tube)]
    longest = min(TUBES[side.tube].pedal for side in sides)
    marks: list[Mark] = []
    y = 4.0
    for side in sides:
        y = _side(marks, build, stand, side, longest, y) + 10
    for lever in build.levers:
        if lever.does == "stopping":
            y = _stopping(marks, lever, longest, y) + 10
    if build.valves and any(side.row != "full" for side in sides):
        y = _key(marks, build, y)
    return Picture(
        _WIDTH,
        y,
        _s("Tubes of the %(kind)s, unrolled to scale") % {"kind": _s(build.name)},
        described(build, stand),
        tuple(marks),
    )


def _length(tube: str, longest: int) -> float:
    """A tube in drawing units."""
    return float(_TUBE * 2.0 ** ((longest - TUBES[tube].pedal) / 12.0))


def _side(marks: list[Mark], build: Build, stand: Stand, side: Side, longest: int, y: float) -> float:
    length = _length(side.tube, longest)
    marks.append(Words(_LEFT, y + 12, TUBES[side.tube].words, _PLAIN, bold=True))
    marks.append(Words(_WIDTH - 6, y + 12, reached(build, stand, side), _SMALL, anchor="end"))
    marks.append(_tube(length, y + 28))
    return _slides(marks, build, side, longest, y + 44) if build.valves else y + 40


def _tube(length: float, middle: float) -> Shape:
    """A straight horn: narrow for most of its length, then a flare; the axis is to scale, the bore is not."""
    x, bell = _LEFT, _LEFT + length
    flare = bell - 0.16 * length
    upper = f"M{x:g} {middle - 1.6:g}L{flare:g} {middle - 2.6:g}Q{bell - 6:g} {middle - 4:g} {bell:g} {middle - 11:g}"
    lower = f"L{bell:g} {middle + 11:g}Q{bell - 6:g} {middle + 4:g} {flare:g} {middle + 2.6:g}L{x:g} {middle + 1.6:g}Z"
    return Shape(upper + lower, fill=1.0)


def _slides(marks: list[Mark], build: Build, side: Side, longest: int, y: float) -> float:
    """The valve slides in a line, in the order of the fingers, each below its name."""
    length = _length(side.tube, longest)
    through = _length(side.through, longest) if side.through else 0.0
    columns = _columns(build, longest)
    for place, semitones in enumerate(build.valves):
        whole = abs(valve_fraction(semitones)) * length
        borrowed = min(abs(valve_fraction(semitones)) * through, whole)
        x = columns[place]
        arrow = " ↑" if semitones < 0 else ""
        marks.append(Words(x, y + 11, _s(_PLACES[place]) + arrow, _SMALL))
        if side.row != "full":
            marks.append(_bar(x, y + 15, borrowed, fill=0.0))
        if side.row == "compensating":
            marks.append(_bar(x + borrowed, y + 15, whole - borrowed))
        elif side.row == "full":
            marks.append(_bar(x, y + 15, whole))
        else:
            marks.append(
                Shape(
                    f"M{x + borrowed:g} {y + 15 + _BAR:g}H{x + whole:g}V{y + 15:g}H{x + borrowed:g}",
                    line=0.8,
                    dashed=True,
                )
            )
    return y + 15 + _BAR


def _columns(build: Build, longest: int) -> list[float]:
    """Where each valve's slides begin: the same on every side, so that they can be compared downwards."""
    widest = max(_length(side.tube, longest) for side in build.sides)
    starts, x = [], _LEFT
    for semitones in build.valves:
        starts.append(x)
        x += max(abs(valve_fraction(semitones)) * widest, 28.0) + _GAP
    return starts


def _bar(x: float, y: float, length: float, fill: float = 1.0) -> Shape:
    return Shape(f"M{x:g} {y:g}h{length:g}v{_BAR:g}h{-length:g}Z", fill=fill, line=1.0, weight=1.2)


def _stopping(marks: list[Mark], lever: Lever, longest: int, y: float) -> float:
    length = valve_fraction(lever.semitones) * _length(lever.to, longest)
    marks.append(Words(_LEFT, y + 12, _s("Stopping slide"), _PLAIN, bold=True))
    marks.append(
        Words(
            _WIDTH - 6,
            y + 12,
            (_s("with %(lever)s") % {"lever": _s(lever.words) if lever.words else _s("its lever")})[:38],
            _SMALL,
            anchor="end",
        )
    )
    marks.append(_bar(_LEFT, y + 19, length))
    return y + 19 + _BAR


def _key(marks: list[Mark], build: Build, y: float) -> float:
    lent = next(side.through for side in build.sides if side.through)
    marks.append(_bar(_LEFT, y, 18))
    marks.append(Words(_LEFT + 26, y + 11, _s("this side’s own slide"), _SMALL))
    marks.append(_bar(_LEFT, y + 19, 18, fill=0.0))
    marks.append(
        Words(_LEFT + 26, y + 30, _s("slide of the %(side)s side, lent") % {"side": TUBES[lent].words}, _SMALL)
    )
    if any(side.row == "borrowed" for side in build.sides):
        marks.append(Shape(f"M{_LEFT:g} {y + 38:g}h18v{_BAR:g}h-18Z", line=0.8, dashed=True))
        marks.append(Words(_LEFT + 26, y + 49, _s("missing: the valve plays sharp"), _SMALL))
        return y + 54
    return y + 36


def reached(build: Build, stand: Stand, side: Side) -> str:
    """How a side is made to sound: `no lever pressed`, `thumb lever pressed` or the lever's name."""
    if side.tube == stand.tube:
        return _s("crook put in") if build.crooked else _s("sounds at rest") if len(build.sides) > 1 else ""
    lever = next(
        lever for lever in build.levers if lever.does != "stopping" and lever.leads_to(stand.tube) == side.tube
    )
    if lever.worked_by == "finger":
        return _s("with the 4th valve")
    if len(build.thumb_levers) == 1:
        return _s("with the thumb lever")
    return _s("with the %(lever)s lever") % {"lever": _s(lever.name.replace("Eb", "E♭"))}


def described(build: Build, stand: Stand) -> str:
    """The drawing in words: tubes, what switches them, and how the slide sets compare."""
    said = []
    for side in sorted(build.sides, key=lambda side: side.tube != stand.tube):
        if build.crooked and side.tube != stand.tube:
            continue
        how = reached(build, stand, side)
        words = _s("%(tube)s tube, %(how)s.") if how else _s("%(tube)s tube.")
        said.append(words % {"tube": TUBES[side.tube].words, "how": how})
    said += about_sets(build)
    return " ".join(said)


def about_sets(build: Build) -> list[str]:
    """Sentences on how the slide sets compare, with why a short set is short."""
    said = []
    if not build.valves:
        return [_s("It has no valves.")]
    first = build.own_sets[0]
    for side, ratio in zip(build.own_sets[1:], build.set_ratios(), strict=True):
        name, base = TUBES[side.tube].words, TUBES[first.tube].words
        if side.row == "compensating":
            words = _s(
                "On the %(side)s side the air first passes the %(other)s slides, so its own set only adds the "
                "difference: it is %(ratio)s times as long as the %(other)s set."
            )
        else:
            words = _s("The %(side)s set is %(ratio)s times as long as the %(other)s set.")
        said.append(words % {"side": name, "other": base, "ratio": figure(ratio, 2)})
    for side in build.sides:
        if side.row == "borrowed":
            words = _s(
                "The %(side)s side has no slides of its own: it uses those of the %(other)s side, which are too short "
                "for it, so its valves play sharp."
            )
            said.append(words % {"side": TUBES[side.tube].words, "other": TUBES[side.through].words})
    return said


def drawing(build: Build, stand: Stand) -> str:
    """The drawing as an SVG element for a page, with its text alternative."""
    return svg(unrolled(build, stand), "unrolled")
