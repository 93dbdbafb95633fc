"""One page of a long list, counted to 1,000."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

COUNTED_TO = 1000
PAGE = 25
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class OnePage(Generic[Row]):
    """Rows of one page. `total` is exact up to 1,000; `more` says that there are more than that."""

    rows: list[Row]
    number: int
    total: int
    more: bool
    has_next: bool

    @property
    def first(self) -> int:
        return (self.number - 1) * PAGE + 1

    @property
    def last(self) -> int:
        return self.first + len(self.rows) - 1

    @property
    def previous(self) -> int | None:
        return self.number - 1 if self.number > 1 else None

    @property
    def next(self) -> int | None:
        return self.number + 1 if self.has_next else None

    @property
    def numbers(self) -> list[int]:
        """Pages near this one that are known to be there, with the first."""
        known = max(-(-self.total // PAGE), self.number + (1 if self.has_next else 0))
        return sorted({1, *range(max(1, self.number - 2), min(known, self.number + 2) + 1)})
