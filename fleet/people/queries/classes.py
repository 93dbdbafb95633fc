"""The classes and ensembles of a school, with their numbers."""

from __future__ import annotations

from django.db.models import Count, QuerySet

from fleet.ground.wording import in_reading_order
from fleet.people.models import Pupil, School


def class_names(school: School) -> QuerySet[Pupil, str]:
    """Each class or ensemble of a school once. The first of them are read along an index."""
    here = Pupil.objects.at(school).filter(left_on=None, group__gt="")
    return here.order_by("group").values_list("group", flat=True).distinct()


def classes(school: School) -> list[tuple[str, int]]:
    """Every class or ensemble with the number of its pupils; "" for pupils in none. One query."""
    here = Pupil.objects.at(school).filter(left_on=None).order_by()
    return sorted(
        here.values_list("group").annotate(Count("pk")), key=lambda item: (item[0] == "", in_reading_order(item[0]))
    )
