"""Square codes (QR, ISO/IEC 18004) fast enough for a thousand labels: the masks are weighed together.

Most of the time that the code library takes goes into weighing its eight masks one module at a time. Two masks of
one version and level differ in the same modules whatever the code says, so those differences are kept, and the
eight symbols are made from one and weighed as arrays. In the same way a bit of what is said changes the same modules
whatever the rest says, for the standard's check words are sums without carry (7.5.2): what each bit of the last letters
changes is kept, since addresses of a print differ in nothing else.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
import segno
from numpy.typing import NDArray

QUIET = 4  # modules around the symbol, as the standard asks
DIFFER = 9  # a label code and the stroke after it
_BITS = tuple(1 << place for place in range(8))


def modules(said: str) -> NDArray[np.bool_]:
    """The symbol, dark modules true, at level M or better with the mask of the least penalty."""
    words = said.encode()
    fixed = max(len(words) - DIFFER, 0)
    bare = words[:fixed] + bytes(len(words) - fixed)
    without, version, level = _made(bare)
    symbol = without
    for place in range(fixed, len(words)):
        for bit in _BITS:
            if words[place] & bit:
                symbol = symbol ^ without ^ _made(bare[:place] + bytes([bit]) + bare[place + 1 :])[0]
    masked = symbol ^ _differences(version, level)
    best: NDArray[np.bool_] = masked[int(np.argmin(penalties(masked)))]
    return best


@lru_cache(maxsize=1024)
def _made(words: bytes) -> tuple[NDArray[np.bool_], str, str]:
    """The symbol with mask 0 as the library makes it, its version and its level."""
    made = segno.make(words, error="m", micro=False, mask=0, mode="byte")
    return np.array(made.matrix, dtype=np.bool_), str(made.version), str(made.error)


def runs(symbol: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """(column, row, length) of each run of dark modules in a row, from the top left."""
    edged = np.zeros((len(symbol), len(symbol) + 2), dtype=np.int8)
    edged[:, 1:-1] = symbol
    edges = edged[:, 1:] - edged[:, :-1]
    y, begins = (edges == 1).nonzero()
    lengths = (edges == -1).nonzero()[1] - begins
    return list(zip(begins.tolist(), y.tolist(), lengths.tolist(), strict=True))


@cache
def _differences(version: str, level: str) -> NDArray[np.bool_]:
    """What turns a symbol with mask 0 into the same with each of the eight masks: modules to change."""
    made = (segno.make("0", version=version, error=level, micro=False, boost_error=False, mask=k) for k in range(8))
    symbols = np.array([one.matrix for one in made], dtype=np.bool_)
    return np.asarray(symbols ^ symbols[0])


def penalties(symbols: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The standard's penalty of each symbol of a stack (k × n × n): runs, blocks, false finders, share of dark."""
    count, size, _ = symbols.shape
    # Rows and columns alike: the stack and its transpose.
    both = np.concatenate([symbols, symbols.transpose(0, 2, 1)])
    same = both[:, :, 1:] == both[:, :, :-1]
    five = same[:, :, :-3] & same[:, :, 1:-2] & same[:, :, 2:-1] & same[:, :, 3:]
    begins = five.copy()
    begins[:, :, 1:] &= ~five[:, :, :-1]
    lines = five.sum((1, 2)) + 2 * begins.sum((1, 2))
    # Outside the symbol everything is light.
    padded = np.zeros((2 * count, size, size + 2 * QUIET), dtype=np.int16)
    padded[:, :, QUIET:-QUIET] = both
    word = np.zeros((2 * count, size, size + 2 * QUIET - 10), dtype=np.int16)
    for bit in range(11):
        word = word * 2 + padded[:, :, bit : bit + word.shape[2]]
    finders = ((word == 0b10111010000) | (word == 0b00001011101)).sum((1, 2))
    lines = lines + 40 * finders
    level = symbols[:, 1:, 1:] == symbols[:, :-1, 1:]
    blocks = (level & same[:count, 1:, :] & same[:count, :-1, :]).sum((1, 2))
    dark = np.abs(symbols.mean((1, 2)) * 100 - 50) // 5
    return np.asarray(lines[:count] + lines[count:] + 3 * blocks + 10 * dark, dtype=np.int64)
