"""The time zones of schools: which there are, and the day of a moment in a row's own."""

from __future__ import annotations

from functools import cache
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.conf import settings
from django.db import models
from django.db.models.functions import Coalesce, NullIf
from django.utils.translation import gettext as _s


def zones() -> list[tuple[str, str]]:
    """Those of places, by their names; the first is the site's own."""
    return [("", _s("That of the site, %(zone)s") % {"zone": settings.TIME_ZONE}), *_of_places()]


@cache
def _of_places() -> list[tuple[str, str]]:
    places = sorted(name for name in available_timezones() if "/" in name and not name.startswith("Etc/"))
    return [(name, name.replace("_", " ")) for name in places]


def zone_of(name: str) -> ZoneInfo:
    return ZoneInfo(name or settings.TIME_ZONE)


class DayAt(models.Func):
    """The day of a moment in the zone that a school's row names, whoever asks and from wherever."""

    output_field = models.DateField()

    def __init__(self, moment: str, school: str) -> None:
        own = NullIf(models.F(f"{school}__time_zone"), models.Value(""))
        super().__init__(moment, Coalesce(own, models.Value(settings.TIME_ZONE)))

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return self.as_sql(compiler, connection, template="django_datetime_cast_date(%(expressions)s, 'UTC')", **more)

    def as_postgresql(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="(%(expressions)s)::date", arg_joiner=" AT TIME ZONE ", **more
        )
