"""What is so about a count, for its page and its report."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.queries import shelves
from fleet.counting.queries.sampling import Estimate
from fleet.people.models import User


@dataclass(frozen=True, slots=True)
class CountFacts:
    """A count as it stands or ended.

    `numbers` says how many horns ended how (an outcome's value each); `differences` is not known before the counting
    is ended. `sample` is what a sample says of the whole, None for a count of everything.
    """

    count: Count
    counted_by: list[User]
    numbers: Counter[str]
    differences: list[shelves.SeenLine]
    finds: list[Find]
    noted: list[Sighting]
    sample: Estimate | None


def of_count(count: Count) -> CountFacts:
    """The facts of a count that was fetched with who began, ended and signed it."""
    if count.is_open:
        numbers = Counter(str(outcome.value) for _, outcome in shelves.endings(count))
    else:
        numbers = shelves.numbers(count)
    differing = Line.objects.filter(count=count, outcome__in=Line.DIFFERENCES).select_related("resolved_by")
    noted = Sighting.objects.filter(count=count).standing().exclude(note="").select_related("line", "by")
    return CountFacts(
        count=count,
        counted_by=sorted(shelves.counters(count), key=str),
        numbers=numbers,
        differences=shelves.with_sightings(list(differing)),
        finds=list(Find.objects.filter(count=count).standing().select_related("by", "horn", "resolved_by")),
        noted=list(noted),
        sample=None if count.is_open else shelves.estimate(count, numbers),
    )
