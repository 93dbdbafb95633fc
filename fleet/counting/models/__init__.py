"""The rows of counts, which are never taken away."""

from fleet.counting.models.counts import Count
from fleet.counting.models.finds import Find
from fleet.counting.models.sightings import Line, Sighting

__all__ = [
    "Count",
    "Find",
    "Line",
    "Sighting",
]
