"""The classes and ensembles of a school, with their numbers."""

from __future__ import annotations

from collections import Counter

from fleet.ground.wording import in_reading_order
from fleet.people.models import Pupil, School


def classes(school: School) -> list[tuple[str, int]]:
    """Every class or ensemble with the number of its pupils; "" for pupils in none. One query."""
    groups = Counter(Pupil.objects.at(school).filter(left_on=None).values_list("group", flat=True))
    return sorted(groups.items(), key=lambda item: (item[0] == "", in_reading_order(item[0])))
