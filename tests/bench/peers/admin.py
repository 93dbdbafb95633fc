"""The horns as lists of Django's own admin: an ordinary one, and one by somebody who measures.

Both show the nine columns of our list, 25 rows a page, to a superuser who comes in by the admin's own doors.
"""

from __future__ import annotations

from typing import Any

from django.contrib.admin import AdminSite, ModelAdmin
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.functional import cached_property

from fleet.ground.access import Door, Reach
from fleet.ground.paging import COUNTED_TO
from fleet.register.models import Horn

# Behind it the admin looks for itself who may come in.
ANYBODY_SIGNED_IN = Door(read=frozenset(), reach=Reach.SIGNED_IN)
# Beside the apps of the site.
APPS = ["django.contrib.admin"]


class Site(AdminSite):
    def has_permission(self, request: HttpRequest) -> bool:
        # Accounts of ours have no column `is_staff`.
        return bool(request.user.is_active and request.user.is_superuser)


class Listed(ModelAdmin):
    list_display = ("number", "kind", "stands_in", "where", "holder_name", "due_on", "place", "grade", "checked_on")
    list_per_page = 25

    def get_queryset(self, request: HttpRequest) -> QuerySet[Horn]:
        return super().get_queryset(request).filter(school__slug="bench")


class Ordinary(Listed):
    """As it is written first: filters beside the list, everything counted exactly, searched for with joins."""

    list_filter = ("build", "stands_in", "grade")
    ordering = ("number",)
    search_fields = ("number", "maker", "model", "serial_number", "build", "loans__pupil__name")


class CountedSoFar(Paginator):
    @cached_property
    def count(self) -> int:
        found: Any = self.object_list
        return int(found[: COUNTED_TO + 1].count())


class Careful(Listed):
    """Kept columns alone, an order that an index has, nothing counted to the end, no filters."""

    list_select_related = ("place",)
    ordering = ("number_stem", "number_tail", "pk")
    paginator = CountedSoFar
    search_fields = ("number", "maker", "serial_number", "holder_name")
    show_full_result_count = False


ordinary, careful = Site("ordinary"), Site("careful")
ordinary.register(Horn, Ordinary)
careful.register(Horn, Careful)
