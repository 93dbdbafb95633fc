"""Horns put on the register, one or as many as a list brings in, and taken back, each batch in one transaction.

The caller holds the transaction and has looked every value over with the fields of `HornForm`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from itertools import chain
from typing import Any

from django.db import connection

from fleet.ground.paging import instance
from fleet.people.models import School, User
from fleet.register.models import Horn, Place, new_label_code

# So many values a statement of SQLite may have, unless it was made for more: its SQLITE_MAX_VARIABLE_NUMBER.
MOST_VALUES = 32_766


def register_many(*, school: School, particulars: Sequence[Mapping[str, Any]], by: User, at: datetime) -> list[Horn]:
    """New horns with their search columns and keys, in the order given."""
    blank = vars(Horn(school_id=school.pk, created=at, created_by_id=by.pk))
    horns = left = [_like(blank, one) for one in particulars]
    while left:
        for horn in left:
            horn.label_code = new_label_code()
        _insert(left)
        numbers = [horn.number for horn in left]
        keys = dict(Horn.objects.at(school).filter(number__in=numbers).values_list("number", "pk"))
        for horn in left:
            horn.pk = keys.get(horn.number)
        left = [horn for horn in left if horn.pk is None]
    return horns


def _like(blank: Mapping[str, Any], particulars: Mapping[str, Any]) -> Horn:
    """A new horn. The model itself asks each of its columns anew what is in it where nothing is said."""
    horn: Horn = instance(Horn, {**blank}, adding=True)
    for name, value in particulars.items():
        setattr(horn, name, value)
    horn.derive()
    return horn


def _insert(horns: Sequence[Horn]) -> None:
    """The rows in as few statements as are quick: `bulk_create` compiles every value of every row. One whose label code
    another horn has is left out.

    On SQLite the search takes in what one statement brings in a fifth of the time that it takes row by row; to
    PostgreSQL one prepared row is sent again and again in a quarter of the time that a long statement takes to make.
    """
    fields = [field for field in Horn._meta.concrete_fields if not field.primary_key and not field.generated]
    quote = connection.ops.quote_name
    columns = [_prepared(field, [getattr(horn, field.attname) for horn in horns]) for field in fields]
    names = ", ".join(quote(str(field.column)) for field in fields)
    insert = f"INSERT INTO {quote(Horn._meta.db_table)} ({names}) VALUES "  # noqa: S608
    row, rows = f"({', '.join(['%s'] * len(fields))})", list(zip(*columns, strict=True))
    unless = " ON CONFLICT (label_code) DO NOTHING"
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            most = MOST_VALUES // len(fields)
            for start in range(0, len(rows), most):
                some = rows[start : start + most]
                cursor.execute(insert + ", ".join([row] * len(some)) + unless, list(chain.from_iterable(some)))
        else:
            cursor.executemany(insert + row + unless, rows)


def _prepared(field: Any, values: list[Any]) -> list[Any]:
    """A column's values as the database takes them; one that all rows share is prepared once."""
    first = values[0] if values else None
    if all(value is first or value == first for value in values):
        return [field.get_db_prep_save(first, connection)] * len(values)
    if all(type(value) is str for value in values):
        return values
    return [field.get_db_prep_save(value, connection) for value in values]


def remove_unused(horns: Sequence[int]) -> None:
    """Removes horns that a list brought in by mistake and to which nothing has happened.

    The one exception to the rule that a horn is never deleted: these were never more than lines of a file. The
    caller has made sure with `what_points_to`; the database's own references refuse the rest.
    """
    for start in range(0, len(horns), 500):
        found = Horn.objects.filter(pk__in=horns[start : start + 500])
        found._raw_delete(using=connection.alias)


def places_for(school: School, wanted: Iterable[tuple[str, str]]) -> tuple[dict[tuple[str, str], Place], list[int]]:
    """The school's place for each (room, shelf), made where there is none; with the keys of those that were made."""
    known = {(place.room.lower(), place.shelf.lower()): place for place in Place.objects.filter(school=school)}
    made = []
    for room, shelf in wanted:
        key = (room.lower(), shelf.lower())
        if key not in known:
            known[key] = Place.objects.create(school=school, room=room, shelf=shelf)
            made.append(known[key].pk)
    return known, made


def take_back_places(keys: Iterable[int]) -> None:
    """Removes places that a list brought in, as far as no horn is kept there."""
    Place.objects.filter(pk__in=list(keys), horns=None).delete()
