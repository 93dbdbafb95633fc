"""A drawing before it is SVG or PDF: shapes, glyphs and words, so that page and print carry the same one.

Lengths are in the drawing's own units, y downwards. Ink is one colour, told apart by how dark it is, so that
a drawing works on light and on dark paper.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html import escape

# ("M", x, y), ("L", x, y), ("C", x1, y1, x2, y2, x, y) or ("Z",), always absolute.
Segment = tuple[str, *tuple[float, ...]]

_TOKEN = re.compile(r"[MmLlHhVvCcSsQqTtZz]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}


@dataclass(frozen=True, slots=True)
class Shape:
    """A path in SVG path data.

    `fill` and `line` are how dark inside and outline are (0 is none, 1 full ink), `weight` the outline's width. `part`
    names what it belongs to, for a drawing that points at it.
    """

    path: str
    fill: float = 0.0
    line: float = 0.0
    weight: float = 1.0
    dashed: bool = False
    part: str = ""


@dataclass(frozen=True, slots=True)
class Glyph:
    """A sign of `Picture.glyphs` with its origin at x, y, that many times its own size."""

    name: str
    x: float
    y: float
    scale: float


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words with its foot at y; `anchor` is `start`, `middle` or `end`."""

    x: float
    y: float
    said: str
    size: float
    anchor: str = "start"
    bold: bool = False


Mark = Shape | Glyph | Words


@dataclass(frozen=True, slots=True)
class Link:
    """A place of a drawing that leads somewhere: its box, the address, and in words what is there."""

    x: float
    y: float
    wide: float
    high: float
    address: str
    words: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing: `title` and `description` are its text alternative, `glyphs` name to path (y upwards).

    `scale` is how many CSS pixels a unit is where there is room.
    """

    width: float
    height: float
    title: str
    description: str
    marks: tuple[Mark, ...]
    glyphs: dict[str, str] = field(default_factory=dict)
    scale: float = 1.0


def segments(path: str) -> Iterator[Segment]:
    """SVG path data as absolute segments. Raises ValueError for an arc or anything it cannot read."""
    if re.sub(_TOKEN, "", path).strip(" ,\n\t"):
        raise ValueError(f"Cannot read the path {path[:60]!r}.")
    tokens = _TOKEN.findall(path)
    place, letter = 0, ""
    x = y = start_x = start_y = 0.0
    turn: tuple[str, float, float] = ("", 0.0, 0.0)  # the last curve's letter and handle, for S and T
    while place < len(tokens):
        if tokens[place].isalpha():
            letter = tokens[place]
            place += 1
        elif letter in "Mm":
            letter = "L" if letter == "M" else "l"
        kind = letter.upper()
        n = [float(token) for token in tokens[place : place + _TAKES[kind]]]
        place += _TAKES[kind]
        dx, dy = (x, y) if letter.islower() else (0.0, 0.0)
        if kind == "Z":
            x, y = start_x, start_y
            yield ("Z",)
        elif kind in "MLHV":
            x = n[0] + dx if kind != "V" else x
            y = n[-1] + dy if kind != "H" else y
            if kind == "M":
                start_x, start_y = x, y
            yield ("M" if kind == "M" else "L", x, y)
        else:
            points = [(n[i] + dx, n[i + 1] + dy) for i in range(0, len(n), 2)]
            smooth = turn[0] in ("CS" if kind in "CS" else "QT") and turn[0] != ""
            handle = (2 * x - turn[1], 2 * y - turn[2]) if smooth else (x, y)
            if kind in "ST":
                points = [handle, *points]
            end = points[-1]
            turn = (kind, *points[-2])
            if kind in "QT":
                (qx, qy), (ex, ey) = points
                points = [
                    (x + (qx - x) * 2 / 3, y + (qy - y) * 2 / 3),
                    (ex + (qx - ex) * 2 / 3, ey + (qy - ey) * 2 / 3),
                    end,
                ]
            yield ("C", *(number for point in points for number in point))
            x, y = end
            continue
        turn = ("", 0.0, 0.0)


def circle(x: float, y: float, r: float) -> str:
    """The path of a circle round x, y."""
    k = 0.5523 * r
    return (
        f"M{x - r:.1f} {y:.1f}C{x - r:.1f} {y - k:.1f} {x - k:.1f} {y - r:.1f} {x:.1f} {y - r:.1f}"
        f"C{x + k:.1f} {y - r:.1f} {x + r:.1f} {y - k:.1f} {x + r:.1f} {y:.1f}"
        f"C{x + r:.1f} {y + k:.1f} {x + k:.1f} {y + r:.1f} {x:.1f} {y + r:.1f}"
        f"C{x - k:.1f} {y + r:.1f} {x - r:.1f} {y + k:.1f} {x - r:.1f} {y:.1f}Z"
    )


def extent(path: str) -> tuple[float, float]:
    """Least and greatest x of a path, handles of curves included."""
    across = [x for _, *numbers in segments(path) for x in numbers[::2]]
    return min(across), max(across)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _ink(shape: Shape) -> str:
    said = ['fill="currentColor"' if shape.fill else 'fill="none"']
    if 0 < shape.fill < 1:
        said.append(f'fill-opacity="{_number(shape.fill)}"')
    if shape.line:
        said.append(f'stroke="currentColor" stroke-width="{_number(shape.weight)}"')
        if shape.line < 1:
            said.append(f'stroke-opacity="{_number(shape.line)}"')
        if shape.dashed:
            said.append(f'stroke-dasharray="{_number(3 * shape.weight)} {_number(2 * shape.weight)}"')
    return " ".join(said)


def svg(picture: Picture, name: str, *, look: str = "", beside_words: bool = False, links: Iterable[Link] = ()) -> str:
    """The drawing as an SVG element for a page: no style element, no script, nothing fetched.

    `name` must be its own on the page (it begins the ids) and is its class too. The ink is `currentColor`; what belongs
    to the part `look` is in colour. One that stands `beside_words` saying the same is not read out. `links` lie over it
    in their order, which is that of the keyboard.
    """
    links = list(links)
    told = f'role="{"group" if links else "img"}" aria-labelledby="{escape(name)}-title {escape(name)}-desc"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{escape(name)}" '
        f"{'aria-hidden=' + chr(34) + 'true' + chr(34) if beside_words else told} "
        f'width="{picture.width * picture.scale:.0f}" height="{picture.height * picture.scale:.0f}" '
        f'viewBox="0 0 {_number(picture.width)} {_number(picture.height)}">',
    ]
    if not beside_words:
        lines.append(f'<title id="{escape(name)}-title">{escape(picture.title)}</title>')
        lines.append(f'<desc id="{escape(name)}-desc">{escape(picture.description)}</desc>')
    if picture.glyphs:
        signs = "".join(
            f'<path id="{escape(name)}-{escape(sign)}" transform="scale(1,-1)" d="{escape(path)}"/>'
            for sign, path in picture.glyphs.items()
        )
        lines.append(f"<defs>{signs}</defs>")
    for mark in picture.marks:
        if isinstance(mark, Shape):
            seen = ' class="mark"' if look and mark.part == look else ""
            lines.append(f'<path d="{escape(mark.path)}" {_ink(mark)}{seen}/>')
        elif isinstance(mark, Glyph):
            lines.append(
                f'<use href="#{escape(name)}-{escape(mark.name)}" fill="currentColor" '
                f'transform="translate({_number(mark.x)},{_number(mark.y)}) scale({_number(mark.scale)})"/>'
            )
        else:
            weight = ' font-weight="600"' if mark.bold else ""
            lines.append(
                f'<text x="{_number(mark.x)}" y="{_number(mark.y)}" font-size="{_number(mark.size)}" '
                f'text-anchor="{mark.anchor}" fill="currentColor"{weight}>{escape(mark.said)}</text>'
            )
    for link in links:
        box = f'x="{_number(link.x)}" y="{_number(link.y)}" width="{_number(link.wide)}" height="{_number(link.high)}"'
        lines.append(
            f'<a href="{escape(link.address)}" aria-label="{escape(link.words)}"><title>{escape(link.words)}</title>'
            f'<rect class="spot" {box} rx="4" fill="transparent"/></a>'
        )
    lines.append("</svg>")
    return "".join(lines)
