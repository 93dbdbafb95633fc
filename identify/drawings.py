"""Drawings as they stand on a page, all made from the builds: nothing is drawn twice."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language
from django.utils.translation import gettext as _s

from identify.core.drawing.hand import hand, pressing
from identify.core.drawing.picture import Link, Picture, svg
from identify.core.drawing.whole import FRONT, MARKED, part_of, whole
from identify.core.horns.builds import Build
from identify.core.horns.catalogue import catalogue

_VALVES = frozenset({"valves", "levers"})
_SLIDES = frozenset({"valves", "slides"})
# Each answer by a build that gives it.
_WRAPS = {"standard": "single-f", "compact": "compact-f", "oval": "baritone-bb", "trumpet": "marching-mellophone-f"}
_COUNTS = {
    "2": "mellophone-bugle-g",
    "3": "single-f",
    "4": "double-full",
    "5": "double-full-stopping",
    "6": "triple-full",
}
# Where the other row is compared with that of the B♭ side, this one is marked.
_COMPARED = {"sets-2-long", "sets-2-shorter", "sets-2-short"}
_CROOKS = {"crook-yes": "natural-horn", "crook-no": "hunting-horn-eb"}
_HANDS = {"hand-left": "single-f", "hand-right": "mellophone-f"}


def _sets() -> dict[str, tuple[str, str]]:
    """The build that is drawn for an answer about rows of slides, and the drawing in words."""
    return {
        "sets-1": ("single-bb", _s("One row of slides")),
        "sets-2": ("double-full", _s("Two rows of slides")),
        "sets-3": ("triple-full", _s("Three rows of slides")),
        "sets-2-long": ("double-full", _s("Two rows, the second longer")),
        "sets-2-shorter": ("descant-bb-high-f", _s("Two rows, the second a little shorter")),
        "sets-2-short": ("double-compensating", _s("Two rows, the second much shorter")),
    }


def whole_drawn(build: Build, side: str = FRONT, *, numbered: bool = True, beside_words: bool = False) -> SafeString:
    """A build from a side, for a page; at most one of a side on a page is read out."""
    return _whole_drawn(build, side, numbered, beside_words, "" if beside_words else get_language())


@cache
def _whole_drawn(build: Build, side: str, numbered: bool, beside_words: bool, _language: str | None) -> SafeString:
    return _on_page(whole(build, side, numbered=numbered), f"horn-{side}", "", beside_words=beside_words)


def pointed_at(build: Build, links: Iterable[Link]) -> SafeString:
    """The front of a build with places that lead somewhere."""
    return mark_safe(svg(whole(build), "horn-front", links=links))  # noqa: S308 - our drawing


def drawn(name: str, *, look: str = "", down: str = "", thumb: str = "", spoken: bool = False) -> SafeString:
    """The drawing of that name for a question or an answer of the walk; "" for no name."""
    return _drawn(name, look, down, thumb, spoken, get_language() if spoken else "") if name else SafeString("")


@cache
def _drawn(name: str, look: str, down: str, thumb: str, spoken: bool, _language: str | None) -> SafeString:
    picture = picture_of(name, down, thumb)
    if picture is None:
        return render_to_string(f"identify/drawings/{name}.svg", {"spoken": spoken})
    meant = MARKED if name in _sets() else "pressed"
    return _on_page(picture, "drawing", look or meant, beside_words=not spoken)


def _on_page(picture: Picture, name: str, look: str, *, beside_words: bool) -> SafeString:
    return mark_safe(svg(picture, name, look=look, beside_words=beside_words))  # noqa: S308 - our drawing


def picture_of(name: str, down: str = "", thumb: str = "") -> Picture | None:
    """The same before it is SVG or print; None where it is a template of its own."""
    kind, _, which = name.partition("-")
    if name == "fingers":
        return pressing(down, thumb)
    if name == "horn":
        return whole(catalogue()["double-full"], numbered=False)
    if name in ("valves-0", "sets-0"):
        return whole(catalogue()["natural-horn"])
    if kind == "wrap":
        return whole(catalogue()[_WRAPS[which]], numbered=False)
    if kind == "valves":
        build = catalogue()[_COUNTS[which]]
        form = next(form for form in build.forms if form.valve_count == int(which))
        return part_of(
            form,
            _VALVES,
            _s("%(valves)s valves, %(thumbs)s of them for the thumb")
            % {"valves": which, "thumbs": len(form.thumb_levers)},
        )
    if name in _sets():
        code, words = _sets()[name]
        return part_of(catalogue()[code], _SLIDES, words, marked="Bb9" if name in _COMPARED else "")
    if name in _CROOKS:
        return whole(catalogue()[_CROOKS[name]])
    if name in _HANDS:
        return hand(catalogue()[_HANDS[name]])
    return None
