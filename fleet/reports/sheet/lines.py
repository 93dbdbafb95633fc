"""Words on lines: how many go into a width, where they are broken, and what is cut. Widths in millimetres."""

from __future__ import annotations

from functools import lru_cache

from fleet.reports.sheet import faces

MM = 72 / 25.4


def leading(size: float) -> float:
    """Millimetres from line to line for letters of that many points."""
    return size * 1.28 / MM


def block_height(said: str, width: float, size: float) -> float:
    """Millimetres that the words take, broken into lines of that width."""
    return len(broken(said, width, size)) * leading(size)


def fitted(said: str, width: float, size: float, bold: bool = False) -> tuple[str, float]:
    """Words and size that go into a width of mm: as they are, a little smaller, or cut with an ellipsis."""
    room = width * MM
    smallest = size * 0.75
    natural = faces.width(said, size, bold)
    if natural <= room:
        return said, size
    if natural * 0.75 <= room:
        return said, size * room / natural * 0.999
    said = faces.printable(said, bold)
    return said[: _longest(said, room, smallest, bold, "…")].rstrip() + "…", smallest


def _longest(said: str, room: float, size: float, bold: bool, tail: str = "") -> int:
    """How many letters of the words, with the tail, go into that many points."""
    low, high = 0, len(said)
    while low < high:
        middle = (low + high + 1) // 2
        if faces.width(said[:middle].rstrip() + tail, size, bold) <= room:
            low = middle
        else:
            high = middle - 1
    return low


def broken(said: str, width: float, size: float, bold: bool = False, lines: int = 1000) -> list[str]:
    """Lines of at most `width` mm. Line ends in the words are kept; a word longer than a line is cut."""
    return list(_broken(said, width, size, bold, lines))


def _seam(word: str, longest: int) -> int:
    """Where a word too long for its line is cut: after a sign between its parts, where one is not far back."""
    for place in range(longest, longest // 3, -1):
        if word[place - 1] in "-/@._–":
            return place
    return longest


@lru_cache(maxsize=256)
def _broken(said: str, width: float, size: float, bold: bool, lines: int) -> tuple[str, ...]:
    room = width * MM
    space = faces.width("a a", size, bold) - faces.width("aa", size, bold)
    done: list[str] = []
    for stretch in said.splitlines():
        line, used = "", 0.0
        # What no face has may leave a space, at which a line is broken as at any other.
        for word in faces.printable(stretch, bold).split():
            long = faces.width(word, size, bold)
            while long > room:
                # A double name, an address, or someone leaning on a key.
                if line:
                    done.append(line)
                    line, used = "", 0.0
                cut = _seam(word, max(1, _longest(word, room, size, bold)))
                done.append(word[:cut])
                word = word[cut:]
                long = faces.width(word, size, bold)
                if len(done) > lines:
                    break
            if line and used + space + long > room:
                done.append(line)
                line, used = word, long
            elif word:
                line, used = (f"{line} {word}", used + space + long) if line else (word, long)
        if line or not stretch.strip():
            done.append(line)
        if len(done) > lines:
            break
    if len(done) > lines:
        done = done[:lines]
        last = faces.printable(done[-1], bold)
        done[-1] = last[: _longest(last, room, size, bold, " …")].rstrip() + " …"
    return tuple(done)


def balanced(said: str, width: float, size: float, bold: bool = False) -> list[str]:
    """The same number of lines, a little narrower where that keeps a last word from standing alone."""
    lines = broken(said, width, size, bold)
    for part in (1.0, 0.96, 0.92, 0.88, 0.84, 0.8):
        narrower = broken(said, width * part, size, bold)
        if len(narrower) != len(lines):
            break
        if " " in narrower[-1]:
            return narrower
    return lines
