"""The hand that works the valves, palm away from the player, with the number of each finger on it."""

from collections.abc import Callable

from identify.core.drawing.picture import Mark, Picture, Shape, Words, circle
from identify.core.fingering.words import letters
from identify.core.horns.builds import Build
from identify.core.horns.speech import _s, capital

# Each finger of a left hand seen from its back, as (x of its middle, y of its tip), widths alike; the palm below.
FINGERS = (
    ("index finger", 150.0, 48.0),
    ("middle finger", 112.0, 30.0),
    ("ring finger", 74.0, 44.0),
    ("little finger", 38.0, 84.0),
)
THUMB = "thumb"
_HALF, _KNUCKLES, _WRIST, _WIDTH = 16.0, 170.0, 300.0, 250.0


def pressing(down: str, thumb: str) -> Picture:
    """The left hand with the fingers of `down` pressed, and the thumb `up`, `down` or left out (""); 0 is no finger."""
    numbered = {"1": _s("first"), "2": _s("second"), "3": _s("third"), "4": _s("fourth")}
    fingers = _s(" and ").join(numbered[one] for one in down if one in numbered)
    if thumb == "down":
        said = _s("%(fingers)s finger down, thumb lever down") if fingers else _s("no finger down, thumb lever down")
    elif thumb == "up":
        said = _s("%(fingers)s finger down, thumb off its lever")
        if not fingers:
            said = _s("no finger down, thumb off its lever")
    else:
        said = _s("%(fingers)s finger down") if fingers else _s("no finger down")
    said %= {"fingers": fingers}
    marks = [Shape(_finger(middle, tip), line=1.0, weight=5.0) for _, middle, tip in FINGERS]
    marks += [Shape(_palm(_as_left), line=1.0, weight=5.0), Shape(_thumb(_as_left), line=1.0, weight=5.0)]
    pressed = [FINGERS[int(one) - 1][1:] for one in down if one in numbered]
    if thumb == "down":
        pressed.append((220.0, 162.0))
    for x, tip in pressed:
        marks.append(Shape(circle(x, tip + 20, 13), fill=1.0, line=1.0, weight=2.0, part="pressed"))
    described = _s("The back of a left hand; what is pressed is filled.")
    return Picture(_WIDTH, _WRIST + 6, capital(said), described, tuple(marks))


def _as_left(at: float) -> float:
    return at


def hand(build: Build, thumb: bool = True) -> Picture:
    """The left or the right hand, as the build is played, with valves 1, 2, 3 (and 4) on its fingers.

    The letters of its levers stand on the thumb, unless no `thumb` is wanted.
    """
    left = build.hand[:1] != ("right",)
    count = build.fingered

    def x(at: float) -> float:
        return at if left else _WIDTH - at

    marks: list[Mark] = []
    named: list[tuple[str, str]] = []
    for place, (finger, middle, tip) in enumerate(FINGERS, start=1):
        marks.append(Shape(_finger(x(middle), tip), line=1.0, weight=2.5))
        if place <= count:
            marks.append(Words(x(middle), tip + 32, str(place), 24, anchor="middle", bold=True))
            named.append((str(place), finger))
    marks.append(Shape(_palm(x), line=1.0, weight=2.5))
    marks.append(Shape(_thumb(x), line=1.0, weight=2.5))
    if build.thumb_levers and thumb:
        on_thumb = list(letters(build).values())
        marks.append(
            Words(x(221), 188, "".join(on_thumb), 24 if len(on_thumb) == 1 else 17, anchor="middle", bold=True)
        )
        named.append((_s(" and ").join(on_thumb), THUMB))
    said = _s(", ").join(f"{number} {_s(finger)}" for number, finger in named)
    if left:
        title, told = _s("The left hand with the number of each finger"), _s("The left hand: %(fingers)s.")
    else:
        title, told = _s("The right hand with the number of each finger"), _s("The right hand: %(fingers)s.")
    return Picture(_WIDTH, _WRIST + 6, title, told % {"fingers": said}, tuple(marks))


def _palm(x: Callable[[float], float]) -> str:
    return f"M{x(22):g} {_KNUCKLES:g}L{x(40):g} {_WRIST:g}M{x(160):g} {_WRIST:g}L{x(166):g} {_KNUCKLES + 70:g}"


def _finger(middle: float, tip: float) -> str:
    left, right, top = middle - _HALF, middle + _HALF, tip + _HALF
    return (
        f"M{left:g} {_KNUCKLES:g}L{left:g} {top:g}C{left:g} {tip - 5:g} {right:g} {tip - 5:g} {right:g} {top:g}"
        f"L{right:g} {_KNUCKLES:g}"
    )


def _thumb(x: Callable[[float], float]) -> str:
    return (
        f"M{x(166):g} {_KNUCKLES:g}C{x(170):g} 205 {x(186):g} 200 {x(202):g} 176"
        f"C{x(214):g} 152 {x(244):g} 164 {x(238):g} 192C{x(232):g} 216 {x(196):g} 236 {x(166):g} {_KNUCKLES + 70:g}"
    )
