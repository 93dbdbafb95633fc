"""The horns as lists of Django's own admin: an ordinary one, a careful one, and one by somebody who measures.

All show the nine columns of our list, 25 rows a page, to a superuser who comes in by the admin's own doors.
"""

from __future__ import annotations

from typing import Any, ClassVar

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


class Careful(Listed):
    """By somebody who knows the admin: kept columns, rows with what they name, filters that ask nothing of the rows."""

    list_select_related = ("place",)
    list_filter: ClassVar[Any] = ("where", "grade")
    ordering = ("number_stem", "number_tail", "pk")
    search_fields = ("number", "maker", "serial_number", "holder_name")
    show_full_result_count = False


class CountedSoFar(Paginator):
    @cached_property
    def count(self) -> int:
        found: Any = self.object_list
        return int(found[: COUNTED_TO + 1].count())


class Indexed(Careful):
    """The same by somebody who measures: the school by its key, so that its index gives the order; counted no further
    than ours, and nothing to narrow it by."""

    list_filter = ()
    paginator = CountedSoFar

    def get_queryset(self, request: HttpRequest) -> QuerySet[Horn]:
        user: Any = request.user
        return ModelAdmin.get_queryset(self, request).filter(school=user.posts.get().school_id)


SITES = {name: Site(name) for name in ("ordinary", "careful", "indexed")}
for _name, _listed in (("ordinary", Ordinary), ("careful", Careful), ("indexed", Indexed)):
    SITES[_name].register(Horn, _listed)
