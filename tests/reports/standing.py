"""Where everything on a print stands, as lines of plain words."""

from __future__ import annotations

import io
import re
from typing import Any

from pypdf import PdfReader

from fleet.reports.sheet.lines import MM


def standing(content: bytes) -> list[str]:
    """Of each page its words and strokes as they are drawn: from left and from the foot in mm, then how, then what."""
    return [line for number, page in enumerate(PdfReader(io.BytesIO(content)).pages, 1) for line in _page(number, page)]


def _page(number: int, page: Any) -> list[str]:
    found = [f"page {number}"]
    weight, grey, at, going_on = 0.0, 0.0, (0.0, 0.0), False
    kept: list[tuple[float, float]] = []

    def mm(*points: Any) -> str:
        # Enough to see every constant, too little to see how a processor rounds.
        return " ".join(f"{float(point) / MM + 0:.1f}" for point in points)

    def drawn(operator: bytes, given: list[Any], cm: list[float], tm: list[float]) -> None:
        nonlocal weight, grey, at, going_on
        match operator:
            case b"q":
                kept.append((weight, grey))
            case b"Q":
                weight, grey = kept.pop()
            case b"w":
                weight = float(given[0])
            case b"g":
                grey = float(given[0])
            case b"m":
                at, going_on = (given[0], given[1]), False
            case b"l":
                # Of a line with many bends the two ends are enough.
                if going_on:
                    found.pop()
                going_on = True
                found.append(f"  {mm(*at, given[0] - at[0], given[1] - at[1])} line {weight:g}")
            case b"re" if cm[0] == 1:  # Not the squares of a code.
                found.append(f"  {mm(*given)} frame {weight:g}")
            case b"cm" if given[4] or given[5]:
                found.append(f"  {mm(given[4], given[5], given[0], given[3])} placed")

    def said(words: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        told = re.sub(r"https?://\S+", "(an address)", " ".join(words.split()))
        if told:
            how = "bold " if "Semibold" in font["/BaseFont"] else ""
            found.append(f"  {mm(tm[4], tm[5])} {size:.2f} {how}{'grey ' if grey else ''}{told}")

    page.extract_text(visitor_text=said, visitor_operand_before=drawn)
    return found
