"""Letters on paper: which face draws which letter, how wide words are, right-to-left words in reading order.

The main face is Source Sans 3; letters it lacks (the accidentals among them) come from Kurinto Sans. Both lie
in the package weblate-fonts under the SIL Open Font License 1.1, and every print carries its letters with it.
A sign that no face has is written as its Unicode name in brackets, so that nothing prints as a black box.
Scripts whose letters change shape by rules of their own (Devanagari, say) print their letters unjoined.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured

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
_MIRROR = str.maketrans("()[]{}<>«»", ")(][}{><»«")


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
    font = TTFont(name, str(_home() / FACES[rank][bold]))
    pdfmetrics.registerFont(font)
    return font


@lru_cache(maxsize=8192)
def _rank(letter: str, bold: bool) -> int | None:
    """The first face that has the letter, None when none has."""
    for rank in range(len(FACES)):
        if ord(letter) in _face(rank, bold).face.charToGlyph:
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


@lru_cache(maxsize=4096)
def printable(words: str, bold: bool = False) -> str:
    """Words on one line, still in the order of speech, with only letters that some face has."""
    main = _face(0, bold).face.charToGlyph
    if all(ord(letter) in main for letter in words):
        return words
    spelt = "".join(_spelt(letter, bold) for letter in unicodedata.normalize("NFC", words))
    return spelt.strip() if words.strip() else spelt


def _runs(words: str, bold: bool) -> Iterator[tuple[str, str, float, float]]:
    """(name of the face, stretch of words, times as large, raised by) from left to right."""
    main = _face(0, bold)
    if all(ord(letter) in main.face.charToGlyph for letter in words):
        yield main.fontName, words, 1.0, 0.0
        return
    kinds = [(_rank(letter, bold) or 0, *ACCIDENTALS.get(letter, (1.0, 0.0))) for letter in words]
    for (rank, times, raised), places in groupby(range(len(words)), key=kinds.__getitem__):
        yield _face(rank, bold).fontName, "".join(words[place] for place in places), times, raised


def width(words: str, size: float, bold: bool = False) -> float:
    """Width in points."""
    return size * _width_at_one(words, bold)


@lru_cache(maxsize=8192)
def _width_at_one(words: str, bold: bool) -> float:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(sum(stringWidth(part, face, times) for face, part, times, _ in shown(words, bold)))


@lru_cache(maxsize=4096)
def shown(words: str, bold: bool) -> tuple[tuple[str, str, float, float], ...]:
    """(name of the face, stretch of words, times as large, raised by) from left to right, as drawn."""
    return tuple(_runs(in_reading_order(printable(words, bold)), bold))


def draw(canvas: Any, x: float, y: float, words: str, size: float, bold: bool = False) -> None:
    """Draw words with their left end at x, y in points."""
    line = canvas.beginText(x, y)
    for face, part, times, raised in shown(words, bold):
        line.setFont(face, size * times)
        if raised:
            line.setRise(size * raised)
        line.textOut(part)
        if raised:
            line.setRise(0)
    canvas.drawText(line)


@cache
def _arabic_forms() -> dict[str, dict[str, str]]:
    """Shapes of Arabic letters by place in the word, and lam with alef, as Unicode's own table has them."""
    forms: dict[str, dict[str, str]] = {}
    for code in (*range(0xFB50, 0xFC00), *range(0xFE70, 0xFF00)):
        kind, *letters = unicodedata.decomposition(chr(code)).split() or [""]
        if kind in {"<isolated>", "<initial>", "<medial>", "<final>"} and letters and letters[0] != "0020":
            base = "".join(chr(int(letter, 16)) for letter in letters)
            forms.setdefault(base, {}).setdefault(kind, chr(code))
    return forms


def _joined(words: str) -> str:
    forms = _arabic_forms()
    for pair in ("\u0644\u0622", "\u0644\u0623", "\u0644\u0625", "\u0644\u0627"):
        # One sign for lam and alef, marked by its isolated shape until its place in the word is known.
        words = words.replace(pair, forms[pair]["<isolated>"])
        forms.setdefault(forms[pair]["<isolated>"], forms[pair])
    solid = [place for place, letter in enumerate(words) if not unicodedata.combining(letter)]
    shaped = list(words)
    for at, place in enumerate(solid):
        own = forms.get(words[place], {})
        before = forms.get(words[solid[at - 1]], {}) if at else {}
        after = forms.get(words[solid[at + 1]], {}) if at + 1 < len(solid) else {}
        joins_back = "<initial>" in before and "<final>" in own
        joins_on = "<initial>" in own and "<final>" in after
        kind = ("<isolated>", "<initial>", "<final>", "<medial>")[joins_back * 2 + joins_on]
        shaped[place] = own.get(kind, words[place])
    return "".join(shaped)


def in_reading_order(words: str) -> str:
    """Words as they stand on the paper from left to right: right-to-left stretches turned, Arabic joined.

    A plain form of the Unicode bidirectional algorithm (UAX 9) for one line in a left-to-right page: no
    embedding marks, two levels.
    """
    kinds = [unicodedata.bidirectional(letter) for letter in words]
    if not any(kind in {"R", "AL", "AN"} for kind in kinds):
        return words
    words = _joined(words)
    clusters: list[str] = []
    for letter in words:
        if clusters and unicodedata.combining(letter):
            clusters[-1] += letter
        else:
            clusters.append(letter)
    levels = _levels([unicodedata.bidirectional(cluster[0]) for cluster in clusters])
    shown = [
        cluster.translate(_MIRROR) if level == 1 else cluster for cluster, level in zip(clusters, levels, strict=True)
    ]
    for lowest in (2, 1):
        start = None
        for place in range(len(shown) + 1):
            inside = place < len(shown) and levels[place] >= lowest
            if inside and start is None:
                start = place
            elif not inside and start is not None:
                shown[start:place] = reversed(shown[start:place])
                start = None
    return "".join(shown)


def _levels(kinds: list[str]) -> list[int]:
    """0 from left to right, 1 from right to left, 2 a number inside such words."""
    levels: list[int | None] = []
    strong = "L"
    for kind in kinds:
        if kind in {"L", "R", "AL"}:
            strong = kind
            levels.append(0 if kind == "L" else 1)
        elif kind in {"EN", "AN"}:
            levels.append(2 if kind == "AN" or strong != "L" else 0)
        else:
            levels.append(None)
    settled: list[int] = []
    for place, level in enumerate(levels):
        if level is None:
            before = settled[-1] if settled else 0
            after = next((later for later in levels[place:] if later is not None), 0)
            level = 1 if before and after else 0
        settled.append(level)
    return settled
