"""The classes and ensembles of a school, with their numbers."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Count, QuerySet

from fleet.ground.addresses import whole
from fleet.ground.paging import LAST_PAGE, PAGE, OnePage
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


def page_of_classes(school: School, asked: str | None, *, in_none: bool) -> OnePage[tuple[str, int]]:
    """`page_of_names` with how many are in each, as `classes` gives it."""
    page = page_of_names(school, asked, in_none=in_none)
    return OnePage(classes(school, page.rows), page.number, page.total, more=page.more, has_next=page.has_next)


def page_of_names(school: School, asked: str | None, *, in_none: bool) -> OnePage[str]:
    """The page of classes that an address asks for, with "" for those in none or without; of one past the end the
    last, of nonsense the first.

    Read along an index up to one more than it shows: to count all would be to read every pupil.
    """
    names, number = class_names(school), min(whole(asked) or 1, LAST_PAGE)
    none = [""] if in_none and Pupil.objects.at(school).filter(left_on=None, group="").exists() else []

    def on_page() -> list[str]:
        return list(names[(number - 1) * PAGE : number * PAGE + 1])

    if not (wanted := on_page()) and number > 1:
        number = max(1, min(number, -(-(names.count() + len(none)) // PAGE)))
        wanted = on_page()
    wanted += none if len(wanted) <= PAGE else []
    further = len(wanted) > PAGE
    rows = wanted[:PAGE]
    return OnePage(rows, number, (number - 1) * PAGE + len(rows), more=further, has_next=further)
