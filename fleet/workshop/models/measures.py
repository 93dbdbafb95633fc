"""What can be measured at a fault: in which unit, and between which bounds a figure can be right."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _s

KEYS = {"what", "unit", "least", "most"}
# So often can a horn have one fault, where its number is asked.
MOST_OF_ONE = 30


@dataclass(frozen=True, slots=True)
class Measure:
    """`what` asks for it; a figure under `least` or over `most` was read or typed wrongly."""

    what: str
    unit: str
    least: Decimal
    most: Decimal

    @property
    def asks(self) -> str:
        return _s("%(what)s, in %(unit)s") % {"what": _s(self.what), "unit": self.unit}

    @property
    def bounds(self) -> str:
        told = {"least": in_words(self.least), "most": in_words(self.most), "unit": self.unit}
        return _s("between %(least)s and %(most)s %(unit)s") % told

    def takes(self, figure: Decimal) -> bool:
        return self.least <= figure <= self.most


def in_words(figure: Decimal) -> str:
    """`3` or `2.5`, and `2,5` in German; never `3.00`."""
    return number_format(f"{figure.normalize():f}")


def wrong_measure(raw: Any) -> str:
    """What is wrong with a measure of the catalogue, "" where nothing is."""
    if not isinstance(raw, dict) or raw.keys() != KEYS:
        return "measure has what, unit, least and most."
    if not all(isinstance(raw[key], str) and raw[key].strip() for key in ("what", "unit")):
        return "measure must say what is measured and in which unit."
    figures = raw["least"], raw["most"]
    if not all(type(one) in {int, float} for one in figures) or not 0 <= figures[0] < figures[1] < 10_000:
        return "measure must lie between two figures, the lesser first."
    return ""


def in_figures(raw: Any) -> Measure | None:
    if raw is None:
        return None
    return Measure(raw["what"], raw["unit"], Decimal(str(raw["least"])), Decimal(str(raw["most"])))
