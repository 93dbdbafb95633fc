"""The classes and ensembles of a school, with their numbers."""

from __future__ import annotations

from collections.abc import Collection
from functools import cached_property

from django.core.paginator import Paginator
from django.db.models import Count, QuerySet

from fleet.ground.wording import in_reading_order
from fleet.people.models import Pupil, School


def class_names(school: School) -> QuerySet[Pupil, str]:
    """Each class or ensemble of a school once, in reading order. The first of them are read along an index."""
    here = Pupil.objects.at(school).filter(left_on=None).exclude(group="")
    return here.order_by("group_sorted_by", "group").values_list("group", flat=True).distinct()


def classes(school: School, names: Collection[str] | None = None) -> list[tuple[str, int]]:
    """Every class or ensemble with the number of its pupils, "" for pupils in none last; or those of `names` that
    somebody is in. One query."""
    here = Pupil.objects.at(school).filter(left_on=None, **({} if names is None else {"group__in": names})).order_by()
    return sorted(
        here.values_list("group").annotate(Count("pk")), key=lambda item: (item[0] == "", in_reading_order(item[0]))
    )


def classes_in_pages(school: School, per_page: int, *, in_none: bool) -> Paginator[tuple[str, int]]:
    """What `classes` gives, with those in none or without, of which only the page asked for is read."""
    # Of what it pages through it asks for its length and for slices.
    return Paginator(_Classes(school, in_none), per_page)  # type: ignore[arg-type]


class _Classes:
    def __init__(self, school: School, in_none: bool) -> None:
        self.school, self.in_none, self.names = school, in_none, class_names(school)

    def __len__(self) -> int:
        return self._named + (self.in_none and len(classes(self.school, [""])))

    def __getitem__(self, part: slice) -> list[tuple[str, int]]:
        names = [*self.names[part], *([""] if self.in_none and part.stop > self._named else [])]
        return classes(self.school, names)

    @cached_property
    def _named(self) -> int:
        return self.names.count()
