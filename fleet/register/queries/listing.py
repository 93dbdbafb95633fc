"""One page of the list of horns in four look-ups, however many horns there are.

First how many there are, counted to 1,001 along an index that covers filter and order, or among what has the words;
then the page's keys along it, and its rows by key. Then the places and classes to choose from, and how many withdrawn
ones are left out.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache

from django.db import connection, models
from django.db.models import F
from django.db.models.expressions import OrderBy, RawSQL

from fleet.ground.paging import COUNTED_TO, ByKey, OnePage, Statement, in_words, one_page, statement
from fleet.ground.wording import in_reading_order
from fleet.people.forms.one_of_many import MOST_OPTIONS
from fleet.people.models import School
from fleet.people.models.searched import among
from fleet.register.models import Horn, HornQuerySet, Place
from fleet.register.queries.filters import HornFilters

# Where a column may be empty, which end the empty ones are at: a horn never checked is the most urgent one.
EMPTY_LAST = {"grade", "due_on", "place_order"}
EMPTY_FIRST = {"checked_on"}
# What may be sorted by, as the address says it, and the column it means.
SORTS = {
    "number": "number",
    "build": "build",
    "stands_in": "stands_in",
    "where": "where",
    "holder": "holder_name",
    "due": "due_on",
    "grade": "grade",
    "checked": "checked_on",
    "place": "place_order",
}
USUAL = "number"
# What the list shows of a horn. To put the other forty columns together takes longer than to read them.
SHOWN = [
    *("number", "build", "described_as", "stands_in", "where", "holder_name", "holder_group", "due_on", "noted_back"),
    *("repairer", "on_bench", "not_found_on", "withdrawn_on", "struck_out", "grade", "checked_on"),
    *("place__room", "place__shelf"),
]


@dataclass(frozen=True, slots=True)
class PageOfHorns(OnePage[Horn]):
    """With the places to choose from, as key and words, and the classes that have horns (`MOST_OPTIONS`); and how many
    withdrawn horns the same narrowing finds and the list leaves out, in words; None where nobody looked."""

    places: list[tuple[int, str]]
    classes: list[str]
    withdrawn: str | None


def sort_of(said: str) -> str:
    """A sort as an address may say it, or the usual one."""
    return said if said.removeprefix("-") in SORTS else USUAL


def in_order(said: str) -> list[OrderBy | str]:
    """The order of a sort such as `-grade`, ending in the number and the primary key."""
    sort = sort_of(said)
    down, name = sort.startswith("-"), SORTS[sort.removeprefix("-")]
    sign = "-" if down else ""
    tie: list[OrderBy | str] = [f"{sign}number_stem", f"{sign}number_tail", f"{sign}pk"]
    if name == "number":
        return tie
    if name in EMPTY_FIRST and not down:
        return [F(name).asc(nulls_first=True), *tie]
    if name in EMPTY_LAST or name in EMPTY_FIRST:
        return [F(name).desc(nulls_last=True) if down else F(name).asc(nulls_last=True), *tie]
    return [f"{sign}{name}", *tie]


def page_of(school: School, filters: HornFilters, *, sort: str, number: int) -> PageOfHorns:
    """Page `number` of the school's horns asked for, from 1; one past the end becomes the last."""
    whole, many = None if filters.narrows else ("horns", school.pk, sort), None

    def found() -> HornQuerySet:
        return filters.found(walk=True) if walk else filters.qs.filter(pk__in=among(ids))

    if filters.words:
        ids = list(filters.found().order_by().values_list("pk", flat=True)[: COUNTED_TO + 1])
        many = len(ids)
    walk = many is None or many > COUNTED_TO
    page = one_page(found, _SHOWN, order=in_order(sort), number=number, many=many, like=whole)
    # By words that many horns have the withdrawn ones would be looked through one by one.
    unsaid = page.more and bool(filters.words) and not filters.says_where
    left_out = statement(
        lambda: (Horn.objects.none() if unsaid else filters.withdrawn()).order_by().values_list("pk"),
        whole and ("withdrawn", *whole),
    )
    places, classes, withdrawn = _beside(school, left_out)
    return PageOfHorns(
        page.rows,
        page.number,
        page.total,
        page.more,
        page.has_next,
        places=_places(places),
        classes=_classes(classes),
        withdrawn=None if unsaid else in_words(withdrawn),
    )


# Put in order once for as long as they read the same.
@lru_cache(maxsize=256)
def _places(told: str) -> list[tuple[int, str]]:
    places = [Place(pk=pk, room=room, shelf=shelf) for pk, room, shelf in json.loads(told)]
    places.sort(key=lambda place: (in_reading_order(place.room, place.shelf), place.pk))
    return [(place.pk, str(place)) for place in places]


@lru_cache(maxsize=256)
def _classes(told: str) -> list[str]:
    return sorted(json.loads(told), key=in_reading_order)


# As text: to put the same together from the models takes a third of what it takes to read a page of horns.
_PHOTO = RawSQL(
    "(SELECT id FROM register_photograph WHERE horn_id = register_horn.id ORDER BY at DESC, id DESC LIMIT 1)",
    (),
    output_field=models.BigIntegerField(null=True),
)
_SHOWN = ByKey(Horn.objects.annotate(photo=_PHOTO), *SHOWN)


def _beside(school: School, left_out: Statement) -> tuple[str, str, int]:
    """The school's places and the classes that have horns, as texts, one more than are offered where there are as many;
    and how many are left out. One query."""
    places, classes = {
        "sqlite": ("json_group_array(json_array(id, room, shelf))", "json_group_array(named)"),
        "postgresql": (
            "coalesce(json_agg(json_build_array(id, room, shelf)), '[]')::text",
            "coalesce(json_agg(named), '[]')::text",
        ),
    }[connection.vendor]
    sql, given = left_out
    without = sql or "SELECT id FROM register_horn WHERE 1 = 0"
    next_one = "(SELECT min(holder_group) FROM register_horn WHERE school_id = %s AND holder_group > "
    with connection.cursor() as cursor:
        cursor.execute(
            # From one class to the next along the index, since each horn that is out names its own.
            f"WITH RECURSIVE class(named) AS (SELECT {next_one}'') UNION ALL SELECT {next_one}named) FROM class"  # noqa: S608
            f" WHERE named IS NOT NULL) SELECT (SELECT {places} FROM (SELECT id, room, shelf FROM register_place"
            f" WHERE school_id = %s LIMIT %s) AS first_ones), (SELECT {classes} FROM (SELECT named FROM class"
            f" WHERE named IS NOT NULL LIMIT %s) AS first_ones), (SELECT count(*) FROM ({without} LIMIT %s) AS every)",
            [*[school.pk] * 3, MOST_OPTIONS + 1, MOST_OPTIONS + 1, *given, COUNTED_TO + 1],
        )
        told: tuple[str, str, int] = cursor.fetchone()
    return told
