"""The stock of parts asked by fault: what a job wants, what it lacks, what is missing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from fleet.people.models import School
from fleet.workshop.models import Part


class Stock:
    """The stock as it stands, asked by fault."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = parts
        # By fault, which parts mend it: a bench asks for each of its jobs.
        self._mending: dict[str, list[int]] = defaultdict(list)
        for nth, part in enumerate(parts):
            for code in set(part.mends):
                self._mending[code].append(nth)

    def wanted(self, faults: Iterable[tuple[str, int]]) -> dict[Part, int]:
        """The parts these faults want, each (code, in how many places), with how many of each, in the stock's order."""
        counted: dict[int, int] = {}
        for code, count in faults:
            for nth in self._mending.get(code, ()):
                counted[nth] = counted.get(nth, 0) + count
        return {self.parts[nth]: counted[nth] for nth in sorted(counted)}

    def wanting(
        self, faults: Iterable[tuple[str, int]], *, used: Mapping[int, int] | None = None
    ) -> tuple[tuple[Part, int], ...]:
        """The parts these faults still want, with how many; `used` counts, by part, the pieces in the job already."""
        had = used or {}
        short = ((part, count - had.get(part.pk, 0)) for part, count in self.wanted(faults).items())
        return tuple((part, count) for part, count in short if count > 0)

    def missing(self, faults: Iterable[tuple[str, int]], *, used: Mapping[int, int] | None = None) -> tuple[str, ...]:
        """Names of the parts these faults want and of which too few lie there. What nobody stocks is not missing.

        `used` counts, by part, the pieces that are in the job already.
        """
        return tuple(part.name for part, count in self.wanting(faults, used=used) if part.on_hand < count)


def stock_of(school: School | int | None) -> Stock:
    """One query."""
    return Stock(tuple(Part.objects.filter(school=school)))


def by_supplier(parts: Iterable[Part]) -> list[tuple[str, list[Part]]]:
    """Parts under the names of their suppliers, those that nobody supplies last."""
    found: dict[str, list[Part]] = {}
    for part in parts:
        found.setdefault(part.supplier, []).append(part)
    return sorted(found.items(), key=lambda one: (not one[0], one[0].casefold()))
