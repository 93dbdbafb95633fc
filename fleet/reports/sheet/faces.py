"""Letters on paper: which face draws which letter, how wide words are, right-to-left words in reading order.

The main face is Source Sans 3; letters it lacks (the accidentals among them) come from Kurinto Sans. Both lie
in the package weblate-fonts under the SIL Open Font License 1.1, and every print carries its letters with it.
A sign that no face has is written as its Unicode name in brackets, so that nothing prints as a black box.
Scripts whose letters change shape or place among others are set by HarfBuzz, the rest letter by letter, which is
many times faster. Such words carry what they say as their ActualText (ISO 32000-1, 14.9.4), since the signs HarfBuzz
picks have no letters of their own: a word from left to right whole, one from right to left sign by sign as it lies on
the paper, which is how readers of PDF turn it round again.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from importlib.util import find_spec
from itertools import groupby, pairwise
from pathlib import Path
from threading import Lock
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import get_language_bidi

PACKAGE = "weblate_fonts"
FOLDER = "static/weblate_fonts"
# In the order in which they are asked for a letter: (plain, bold).
FACES = (
    ("source-sans/ttf/SourceSans3-Regular.ttf", "source-sans/ttf/SourceSans3-Semibold.ttf"),
    ("kurinto/ttf/KurintoSans-Rg.ttf", "kurinto/ttf/KurintoSans-Bd.ttf"),
    ("kurinto/ttf/KurintoSansSC-Rg.ttf", "kurinto/ttf/KurintoSansSC-Bd.ttf"),
    ("kurinto/ttf/KurintoSansJP-Rg.ttf", "kurinto/ttf/KurintoSansJP-Bd.ttf"),
    ("kurinto/ttf/KurintoSansKR-Rg.ttf", "kurinto/ttf/KurintoSansKR-Bd.ttf"),
    ("kurinto/ttf/KurintoSansTC-Rg.ttf", "kurinto/ttf/KurintoSansTC-Bd.ttf"),
)
_SKIN_TONES = range(0x1F3FB, 0x1F400)
_VARIATION_SELECTORS = range(0xFE00, 0xFE10)
# The faces draw accidentals small and below the line: times as large, and raised by that part of the size.
ACCIDENTALS = {"♭": (1.35, 0.03), "♮": (1.3, 0.1), "♯": (1.1, 0.12)}
# First letter and letter after the last of the scripts that are set by rules: Hebrew; Arabic, Syriac and their kin;
# the Indic scripts, Thai and Lao, 128 letters each; Tibetan; Myanmar; Khmer; Hebrew's and Arabic's own shapes.
_SET_BY_RULES = (
    (0x590, 0x600), (0x600, 0x900), *((first, first + 0x80) for first in range(0x900, 0xF00, 0x80)), (0xF00, 0x1000),
    (0x1000, 0x10A0), (0x1780, 0x1800), (0xFB1D, 0xFB50), (0xFB50, 0xFE00), (0xFE70, 0xFEFF),
)  # fmt: skip
_BEGINNINGS = [first for first, _ in _SET_BY_RULES]
_MARKED = -2  # where a script would stand: a letter of any other with marks
# python-bidi takes joiners out (UAX 9, X9): they pass it as marks that are in no print otherwise.
_AS_MARKS = str.maketrans("\u200c\u200d", "\ufe00\ufe01")
_TOLD = "\ufe02"
_LEFT_TO_RIGHT = "\u200e"
_AS_JOINERS = str.maketrans("\ufe00\ufe01", "\u200c\u200d")
# Signs without a letter are numbered within the face the first time they are met.
_numbering = Lock()


@cache
def _home() -> Path:
    spec = find_spec(PACKAGE)
    if spec is None or not spec.submodule_search_locations:
        raise ImproperlyConfigured("No letters to print with: install weblate-fonts, as in requirements/run.txt.")
    return Path(next(iter(spec.submodule_search_locations))) / FOLDER


@cache
def _face(rank: int, bold: bool) -> Any:
    """The face of that rank, registered with the PDF library the first time one of its letters is needed."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = f"horn{rank}{'b' if bold else ''}"
    font = TTFont(name, str(_home() / FACES[rank][bold]), shapable=True)
    pdfmetrics.registerFont(font)
    return font


@cache
def _letters(rank: int, bold: bool) -> frozenset[int]:
    """Of the face itself, without the numbers that setting by rules adds to it."""
    return frozenset(_face(rank, bold).face.charToGlyph)


@lru_cache(maxsize=8192)
def _rank(letter: str, bold: bool) -> int | None:
    """The first face that has the letter, None when none has."""
    for rank in range(len(FACES)):
        if ord(letter) in _letters(rank, bold):
            return rank
    return None


def _spelt(letter: str, bold: bool) -> str:
    """The letter itself, or what stands for it where no face has it or where it has no shape of its own."""
    code = ord(letter)
    category = unicodedata.category(letter)
    if letter.isspace() or category == "Cc":
        return " "
    if category in {"Cf", "Cs", "Co", "Cn"} or code in _VARIATION_SELECTORS or code in _SKIN_TONES:
        return ""
    if _rank(letter, bold) is not None and not (code > 0xFFFF and category.startswith("S")):
        # Pictures beyond the first plane are named even where a face has them: the PDF library writes their
        # way back to text wrongly, and then whoever copies from the print or hears it read gets nothing.
        return letter
    bare = unicodedata.normalize("NFKC", letter)
    if bare != letter and all(_rank(part, bold) is not None for part in bare):
        return bare
    if category in {"Mn", "Me"}:
        return ""
    return f"[{unicodedata.name(letter, 'sign').lower()}]"


def _main_only(words: str, bold: bool) -> bool:
    main = _letters(0, bold)
    return all(ord(letter) in main for letter in words) and (
        words.isascii() or not any(unicodedata.combining(letter) for letter in words)
    )


@lru_cache(maxsize=4096)
def printable(words: str, bold: bool = False) -> str:
    """Words on one line, still in the order of speech, with only letters that some face has."""
    if _main_only(words, bold):
        return words
    spelt = ""
    for letter in unicodedata.normalize("NFC", words):
        joins = letter in "\u200c\u200d" and bool(spelt) and _script(spelt[-1]) is not None
        spelt += letter if joins else _spelt(letter, bold)
    return spelt.strip() if words.strip() else spelt


def _script(letter: str) -> int | None:
    """Which of the scripts set by rules the letter belongs to; marks belong to whatever they stand on."""
    code = ord(letter)
    place = bisect(_BEGINNINGS, code) - 1
    return place if place >= 0 and code < _SET_BY_RULES[place][1] else None


def _clusters(words: str) -> list[str]:
    """Each letter with the marks and joiners after it."""
    clusters: list[str] = []
    for letter in words:
        if clusters and (_is_mark(letter) or letter in "\u200c\u200d"):
            clusters[-1] += letter
        else:
            clusters.append(letter)
    return clusters


def _kind(cluster: str, bold: bool) -> tuple[int, int | None, float, float]:
    """(rank of the face, script where it is set by rules, times as large, raised by)"""
    script = _script(cluster[0])
    if script is None and len(cluster) > 1:
        script = _MARKED
    elif unicodedata.bidirectional(cluster[0]) in {"AN", "EN"}:
        script = None
    return _rank(cluster[0], bold) or 0, script, *ACCIDENTALS.get(cluster, (1.0, 0.0))


def _runs(words: str, bold: bool, rtl: bool) -> Iterator[tuple[str, str, float, float]]:
    """(name of the face, stretch of words, times as large, raised by) from left to right."""
    if _main_only(words, bold):
        yield _face(0, bold).fontName, words, 1.0, 0.0
        return
    stretches = groupby(_clusters(in_reading_order(words, rtl)), key=lambda cluster: _kind(cluster, bold))
    for (rank, script, times, raised), clusters in stretches:
        face, parts = _face(rank, bold).fontName, list(clusters)
        if script is None:
            yield face, "".join(parts), times, raised
        else:
            backwards = _right_to_left(parts)
            yield face, _set_by_rules("".join(reversed(parts) if backwards else parts), face), times, raised


def _set_by_rules(words: str, face: str) -> str:
    """Words of one script in the order of speech as HarfBuzz sets them, with how far each sign goes on."""
    from reportlab.lib.abag import ABag
    from reportlab.pdfbase.ttfonts import shapeFragWord

    with _numbering:
        # Without the ligatures of choice: one of them writes vowels into names that were given without.
        _, (_, shaped) = shapeFragWord(
            [0, (ABag(fontName=face, fontSize=1), words)], features={"kern": True, "liga": True}, force=True
        )
    signs: str = shaped
    shaped.spoken = words
    return signs


def width(words: str, size: float, bold: bool = False) -> float:
    """Width in points."""
    return size * _width_at_one(words, bold)


@lru_cache(maxsize=8192)
def _width_at_one(words: str, bold: bool) -> float:
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.pdfbase.ttfonts import ShapedStr

    wide = sum(
        times * sum(sign.x_advance for sign in part.__shapeData__) / 1000
        if isinstance(part, ShapedStr)
        else stringWidth(part, face, times)
        for face, part, times, _ in shown(words, bold)
    )
    return float(wide)


@lru_cache(maxsize=4096)
def shown(words: str, bold: bool, rtl: bool = False) -> tuple[tuple[str, str, float, float], ...]:
    """(name of the face, stretch of words, times as large, raised by) from left to right, as drawn on a page that is
    read from right to left or is not."""
    return tuple(_runs(printable(words, bold), bold, rtl))


def draw(canvas: Any, x: float, y: float, words: str, size: float, bold: bool = False) -> None:
    """Draw words with their left end at x, y in points."""
    line = canvas.beginText(x, y)
    for face, part, times, raised in shown(words, bold, not words.isascii() and get_language_bidi()):
        line.setFont(face, size * times)
        if type(part) is str and not raised:
            line.textOut(part)
            continue
        line.setRise(size * raised)
        if type(part) is str:
            line.textOut(part)
        else:
            for signs, spoken, higher in _told_beside(part):
                told = f"\ufeff{spoken}".encode("utf-16-be").hex()
                line._code.append(f"/Span <</ActualText <{told}>>> BDC")
                line.setRise(size * (raised + higher))
                line.textOut(signs)
                line._code.append("EMC")
        line.setRise(0)
    canvas.drawText(line)


def _told_beside(signs: Any) -> Iterator[tuple[str, str, float]]:
    """(signs, what they say, raised by): of words from right to left for each sign, which the PDF library would not
    raise before it has set another."""
    from reportlab.pdfbase.ttfonts import ShapedStr

    spoken: str = signs.spoken
    if not _right_to_left(spoken):
        yield signs, spoken, 0.0
        return
    clusters = [sign.cluster for sign in signs.__shapeData__]
    ends = dict(pairwise([*sorted(set(clusters)), len(spoken)]))
    before = -1
    for letter, sign in zip(str(signs), signs.__shapeData__, strict=True):
        says = "" if sign.cluster == before else spoken[sign.cluster : ends[sign.cluster]]
        before = sign.cluster
        if len(says) > 1 and unicodedata.normalize("NFKC", letter) == says:
            # Readers would turn its letters round; the sign for both together is one.
            says = letter
        yield ShapedStr(letter, [sign._replace(y_offset=0)]), says, sign.y_offset / 1000


def in_reading_order(words: str, rtl: bool = False) -> str:
    """Words from left to right as they stand on a page that is read so, or with `rtl` from right to left (UAX 9), marks
    after their letters."""
    if not any(unicodedata.bidirectional(letter) in {"R", "AL", "AN"} for letter in words):
        return words
    from bidi import get_display
    from bidi.mirror import MIRRORED

    # The library leaves brackets as they are. A mark after each comes out before it where it is to be turned round.
    told = "".join(f"{letter}{_TOLD}" if letter in MIRRORED else letter for letter in words.translate(_AS_MARKS))
    # An accidental belongs to the note before it, wherever a line ends.
    for sign in ACCIDENTALS:
        told = told.replace(sign, f"{sign}{_LEFT_TO_RIGHT}")
    turned: str = get_display(told, base_dir="R" if rtl else "L").replace(_LEFT_TO_RIGHT, "")
    brackets = f"[{re.escape(''.join(MIRRORED))}]"
    turned = re.sub(
        f"{_TOLD}({brackets})|({brackets}){_TOLD}", lambda found: MIRRORED[found[1]] if found[1] else found[2], turned
    )
    clusters, waiting = [], ""
    for letter in turned:
        if not _is_mark(letter):
            clusters.append(f"{letter}{waiting[::-1]}")
            waiting = ""
        elif clusters and unicodedata.bidirectional(clusters[-1][0]) == "L" and _script(letter) not in {0, 1}:
            clusters[-1] += letter
        else:
            waiting += letter
    return f"{''.join(clusters)}{waiting}".translate(_AS_JOINERS)


def _right_to_left(letters: Iterable[str]) -> bool:
    """Whether any is; a comma of Arabic alone is not."""
    return any(unicodedata.bidirectional(one[0]) in {"R", "AL"} for one in letters)


def _is_mark(letter: str) -> bool:
    return unicodedata.category(letter)[0] == "M"
