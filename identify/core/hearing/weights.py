"""Weights found by fitting: they turn a row of described facts into one score.

A score is a sum over the facts, their squares and their products, each fact first measured in spreads from
its mean and held within ±4, so that a sound unlike all that was fitted on cannot run away with the score.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from identify.core import DATA
from identify.core.hearing.spectrum import Floats

WEIGHTS = DATA / "hearing.toml"


def terms(facts: Floats) -> Floats:
    """One, every fact, and every product of two: rows × (1 + n + n(n+1)/2)."""
    first, second = np.triu_indices(facts.shape[1])
    return np.concatenate([np.ones((len(facts), 1)), facts, facts[:, first] * facts[:, second]], axis=1)


@dataclass(frozen=True, eq=False)
class Fitted:
    """``names`` of the facts, their ``mean`` and ``spread``, and a weight for every one of the ``terms``."""

    names: tuple[str, ...]
    mean: Floats
    spread: Floats
    weights: Floats

    def measured(self, rows: Floats) -> Floats:
        return np.clip((rows - self.mean) / self.spread, -4, 4)

    def score(self, rows: Floats) -> Floats:
        """Of every row of facts."""
        out: Floats = terms(self.measured(rows)) @ self.weights
        return out


@lru_cache(maxsize=8)
def fitted(name: str, facts: Sequence[str], path: Path = WEIGHTS) -> Fitted:
    """The weights of one score. Raises ValueError when the file was fitted to other facts."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))[name]
    if tuple(table["names"]) != tuple(facts):
        raise ValueError(f"{path.name} was fitted to other facts than {name} has now; fit it again.")
    mean, spread, weights = (np.array(table[key], dtype=float) for key in ("mean", "spread", "weights"))
    return Fitted(tuple(facts), mean, spread, weights)


def chance(score: float) -> float:
    """A score of odds as a probability."""
    return float(1 / (1 + np.exp(-np.clip(score, -30, 30))))
