"""Rows of many sorts at once: one statement says which there are, in their order, and a second one reads them all.

What each sort is asked for stays a queryset of its slice. The second statement is put together once for each table with
what is fetched along, and never asks for more than keys, so it costs as much for ten sorts as for one.
"""

from __future__ import annotations

import json
from collections.abc import Hashable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import count
from typing import Any, TypeVar

from django.db import connection
from django.db.models import (
    BinaryField,
    BooleanField,
    Func,
    JSONField,
    Model,
    QuerySet,
    Subquery,
)
from django.db.models.expressions import RawSQL

from fleet.ground.paging import RowOf, reader

Name = TypeVar("Name", bound=Hashable)
Row = TypeVar("Row", bound=Model)
# What `AsLists` tells of each row: its key, and what is annotated.
Found = Sequence[Sequence[Any]]


class AsLists(Subquery):
    """These columns of a queryset's rows, a list for each, in its order; None of one that finds nothing whatever there
    is."""

    output_field = JSONField()

    def __init__(self, rows: QuerySet[Any], *columns: str) -> None:
        super().__init__(rows.values(*columns))
        self.row = ", ".join(f'"{name}"' for name in columns)

    def as_sqlite(self, compiler: Any, connection: Any) -> Any:
        listed = f"(SELECT json_group_array(json_array({self.row})) FROM (%(subquery)s) AS listed)"  # noqa: S608
        return self.as_sql(compiler, connection, listed)

    def as_postgresql(self, compiler: Any, connection: Any) -> Any:
        listed = f"coalesce(jsonb_agg(jsonb_build_array({self.row})), '[]'::jsonb)"
        return self.as_sql(compiler, connection, f"(SELECT {listed} FROM (%(subquery)s) AS listed)")  # noqa: S608


def found_of(rows: QuerySet[Any], most: int | None = None) -> AsLists:
    """Which rows there are, the first `most` of them: what `read` asks for."""
    return AsLists(rows[:most], "pk", *rows.query.annotations)


def read(asked: Mapping[Name, tuple[QuerySet[Any], Found | None]]) -> dict[Name, list[Any]]:
    """By name the rows of each queryset that were found, with what it fetches along (`select_related`) and annotates.
    One query, of nothing found none."""
    there = {name: (rows, found, _sort_of(rows)) for name, (rows, found) in asked.items() if found}
    by_key: dict[Name, dict[Any, Any]] = {name: {} for name in there}
    if there:
        parts = [f"SELECT {n}, told FROM ({sort.sql}) AS sort_{n}" for n, (*_, sort) in enumerate(there.values())]  # noqa: S608
        with connection.cursor() as cursor:
            cursor.execute(" UNION ALL ".join(parts), [_keys(found) for _, found, _ in there.values()])
            names = list(there)
            for n, told in cursor.fetchall():
                row = there[names[n]][2].made(json.loads(told))
                by_key[names[n]][row.pk] = row
    return {
        name: list(_annotated(there[name][0], there[name][1], by_key[name])) if name in there else [] for name in asked
    }


def _annotated(rows: QuerySet[Any], found: Found, by_key: Mapping[Any, Any]) -> Iterator[Any]:
    """The rows in the order in which they were found, each with what was told of it then."""
    readers = [(name, reader(one.output_field)) for name, one in rows.query.annotations.items()]
    for key, *values in found:
        # What was taken away between the two statements is not there any more.
        if row := by_key.get(key):
            for (name, read_as), value in zip(readers, values, strict=True):
                setattr(row, name, read_as(value) if read_as and value is not None else value)
            yield row


def with_rows(rows: QuerySet[Row], hanging: Mapping[Name, QuerySet[Any]]) -> list[tuple[Row, dict[Name, list[Any]]]]:
    """Each of these rows with those of other sorts that hang on it (by `OuterRef`), by name. Two queries."""
    found = [
        (row, {name: getattr(row, f"found_{n}") or [] for n, name in enumerate(hanging)})
        for row in rows.annotate(**{f"found_{n}": found_of(one) for n, one in enumerate(hanging.values())})
    ]
    every = {name: (one, [key for _, of in found for key in of[name]]) for name, one in hanging.items()}
    by_key = {name: {row.pk: row for row in read_rows} for name, read_rows in read(every).items()}
    return [
        (row, {name: [by_key[name][key] for key, *_ in keys if key in by_key[name]] for name, keys in of.items()})
        for row, of in found
    ]


class _Sort:
    """How the rows of one table are read by their keys, each as one list of lists: its own columns, and those of each
    row fetched along."""

    def __init__(self, model: type[Model], along: Sequence[str]) -> None:
        self._parts = [_Held("", model), *(_Held(path, _related(model, path)) for path in along)]
        # Both engines take a hundred values for one list.
        told = _array(*(_array(*part.columns) for part in self._parts))
        own = f'"{model._meta.db_table}"."{model._meta.pk.column}"'
        if connection.vendor == "postgresql":
            # How many keys there are is seen by the planner, which in a list of JSON assumes a hundred.
            asked = f"{own} = ANY(%s::{model._meta.pk.db_type(connection)}[])"
        else:
            asked = f"{own} IN (SELECT value FROM json_each(%s))"  # noqa: S608
        rows = model._default_manager.order_by().filter(RawSQL(asked, ("",), BooleanField()))  # noqa: S611
        self.sql, _ = rows.values(told=told).query.sql_with_params()

    def made(self, told: Sequence[Sequence[Any]]) -> Any:
        rows: dict[str, Any] = {}
        for part, values in zip(self._parts, told, strict=True):
            rows[part.path] = row = part.made(values)
            if part.path and (on := rows[part.hangs_on]) is not None:
                setattr(on, part.name, row)
        return rows[""]


class _Held:
    """One row of several that are read as one: at which path it hangs, its columns, and what makes it of JSON."""

    def __init__(self, path: str, model: type[Model]) -> None:
        self.path = path
        self.hangs_on, _, self.name = path.rpartition("__")
        names = [one.attname for one in model._meta.concrete_fields if not isinstance(one, BinaryField)]
        self.columns = [f"{path}__{name}" if path else name for name in names]
        self.made = RowOf(model, names.index(model._meta.pk.attname), zip(names, count(), strict=False)).made


def _array(*values: Any) -> Func:
    """The library's own would ask the database first whether it knows JSON."""
    function = "jsonb_build_array" if connection.vendor == "postgresql" else "json_array"
    return Func(*values, function=function, output_field=JSONField())


def _keys(found: Found) -> Any:
    """As the engine takes a list."""
    keys = [key for key, *_ in found]
    return keys if connection.vendor == "postgresql" else json.dumps(keys)


def _sort_of(rows: QuerySet[Any]) -> _Sort:
    model: Any = rows.model
    return _sorts(model, tuple(_named(rows.query.select_related or {})))


@lru_cache(maxsize=256)
def _sorts(model: Any, along: tuple[str, ...]) -> _Sort:
    return _Sort(model, along)


def _named(tree: Any, before: str = "") -> Iterator[str]:
    """`{"loan": {"horn": {}}}` as `select_related` is told it: `loan`, `loan__horn`."""
    for name, further in tree.items():
        yield f"{before}{name}"
        yield from _named(further, f"{before}{name}__")


def _related(model: type[Model], path: str) -> type[Model]:
    """The model at the end of a path of foreign keys."""
    for name in path.split("__"):
        field: Any = model._meta.get_field(name)
        # Of the other end of one to one a row that is missing could not be told from one that was not asked for.
        assert field.concrete, f"{path} is no foreign key"
        model = field.related_model
    return model
