"""How long horns are from the plane of the bell to the far bow, and how wide their bells, as data/ has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from statistics import NormalDist

from identify.core import DATA
from identify.core.horns.builds import WRAPS, Build
from identify.core.horns.catalogue import DataError, catalogue, read_table

# Of a normal spread, nine in ten lie within so many standard deviations on either side.
_NINE_IN_TEN = 1.645
_LONGEST = 200.0


@dataclass(frozen=True, slots=True)
class Length:
    """Centimetres between which nine horns in ten lie, and where that is from."""

    low: float
    high: float
    origin: str

    def share_between(self, low: float, high: float) -> float:
        """The share of horns (0 to 1) that measure so many whole centimetres, `low` and `high` included."""
        spread = NormalDist((self.low + self.high) / 2, (self.high - self.low) / (2 * _NINE_IN_TEN))
        return spread.cdf(high + 0.5) - spread.cdf(low - 0.5)


def read_lengths(path: Path, codes: Mapping[str, Build]) -> dict[str, Length]:
    """Read a file of lengths by wrap or code of build. Raises DataError with file, entry and reason."""
    found: dict[str, Length] = {}
    for name, table in read_table(path).items():
        if name not in codes and name not in WRAPS:
            raise DataError(path.name, name, "is neither a wrap nor the code of a build")
        if not isinstance(table, dict) or set(table) != {"cm", "origin"}:
            raise DataError(path.name, name, "must state cm and origin, and nothing else")
        found[name] = Length(*_edges(path, name, table["cm"]), str(table["origin"]))
        if not found[name].origin.strip():
            raise DataError(path.name, name, "origin must be some text")
    missing = [wrap for wrap in WRAPS if wrap not in found]
    if missing:
        raise DataError(path.name, missing[0], "this wrap is missing")
    return found


def _edges(path: Path, name: str, cm: object) -> tuple[float, float]:
    if isinstance(cm, list) and len(cm) == 2 and all(type(edge) in (int, float) for edge in cm):
        low, high = cm
        if 0 < low < high <= _LONGEST:
            return float(low), float(high)
    raise DataError(path.name, name, f"cm is {cm!r}, but must be two rising numbers up to {_LONGEST:g}")


@lru_cache(maxsize=1)
def lengths() -> dict[str, Length]:
    return read_lengths(DATA / "lengths.toml", catalogue())


@lru_cache(maxsize=1)
def bells() -> dict[str, Length]:
    return read_lengths(DATA / "bells.toml", catalogue())


def length_of(build: Build, wrap: str) -> Length:
    """How long a build is when wound so."""
    known = lengths()
    return known.get(build.code) or known[wrap]


def bell_of(build: Build, wrap: str) -> Length:
    """How wide the bell of a build is when wound so."""
    known = bells()
    return known.get(build.code) or known[wrap]
