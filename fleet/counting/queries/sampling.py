"""A sample's size, its drawing, and what it says of all horns. Plain arithmetic, no tables."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from django.utils.translation import gettext as _s


def deviate(confidence: float) -> float:
    """The two-sided standard normal deviate of a confidence between 0 and 1: 1.96 for 0.95."""
    if not 0 < confidence < 1:
        raise ValueError("A confidence lies between 0 and 1.")
    return NormalDist().inv_cdf((1 + confidence) / 2)


def sample_size(population: int, *, confidence: float, margin: float) -> int:
    """How many of so many horns to look at so that the share found is right within `margin` (0 to 1).

    Worked for the worst case, a share of one half, and made smaller for a finite population
    (W. G. Cochran, Sampling Techniques, 3rd edition 1977, section 4.2). Never more than there are.
    """
    if population < 0 or not 0 < margin < 1:
        raise ValueError("A population is not negative, and a margin lies between 0 and 1.")
    if population == 0:
        return 0
    endless = deviate(confidence) ** 2 * 0.25 / margin**2
    # A hair is taken off before rounding up, or the tail of a division could add a horn.
    return min(population, math.ceil(endless / (1 + (endless - 1) / population) - 1e-9))


def drawn(keys: Sequence[int], size: int, seed: int) -> list[int]:
    """`size` of the keys, the same for the same keys and seed, in ascending order."""
    return sorted(random.Random(seed).sample(sorted(keys), size))  # noqa: S311 - to be drawn again, not to be secret


def wilson(hits: int, of: int, *, confidence: float) -> tuple[float, float]:
    """The score interval of a share, 0 to 1 (E. B. Wilson, J. Amer. Statist. Assoc. 22, 1927, 209-212)."""
    if not 0 <= hits <= of or of == 0:
        raise ValueError("There are between none and all hits, of at least one.")
    square = deviate(confidence) ** 2
    middle = (hits + square / 2) / (of + square)
    half = math.sqrt(square) / (of + square) * math.sqrt(hits * (of - hits) / of + square / 4)
    # With no hits, or all, the bound is exact; the subtraction would leave a crumb.
    return (0.0 if hits == 0 else middle - half), (1.0 if hits == of else middle + half)


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a sample says: `hits` of `looked_at` were where the register has them, out of `population` horns."""

    hits: int
    looked_at: int
    population: int
    confidence: float

    @property
    def is_whole(self) -> bool:
        return self.looked_at >= self.population

    @property
    def share(self) -> float:
        return self.hits / self.looked_at

    @property
    def interval(self) -> tuple[float, float]:
        """Of the share. A sample of everything is no estimate: both ends are the share."""
        if self.is_whole:
            return self.share, self.share
        return wilson(self.hits, self.looked_at, confidence=self.confidence)

    @property
    def horns(self) -> tuple[int, int]:
        """The interval in whole horns of the population, no fewer than were seen and no more than can be left."""
        low, high = self.interval
        missed = self.looked_at - self.hits
        return (
            max(self.hits, math.ceil(low * self.population - 1e-9)),
            min(self.population - missed, math.floor(high * self.population + 1e-9)),
        )

    @property
    def sentence(self) -> str:
        low, high = self.interval
        said = _s("%(hits)s of %(looked_at)s horns looked at are where the register has them") % {
            "hits": self.hits,
            "looked_at": self.looked_at,
        }
        if self.is_whole:
            return _s("%(said)s; these are all the horns, so this is no estimate.") % {"said": said}
        fewest, most = self.horns
        return _s(
            "%(said)s: %(share)s. With %(confidence)s confidence the share of all %(population)s lies "
            "between %(low)s and %(high)s, that is %(fewest)s to %(most)s horns."
        ) % {
            "said": said,
            "share": f"{self.share:.1%}",
            "confidence": f"{self.confidence:.0%}",
            "population": self.population,
            "low": f"{low:.1%}",
            "high": f"{high:.1%}",
            "fewest": fewest,
            "most": most,
        }

    @property
    def note(self) -> str:
        if self.is_whole:
            return ""
        part = self.looked_at / self.population
        return _s(
            "Wilson’s score interval (1927), which takes the fleet as endless. The sample is %(part)s of the "
            "horns, so the true interval is somewhat narrower: what is said here errs on the careful side."
        ) % {"part": f"{part:.0%}"}
