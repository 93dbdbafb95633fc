"""Rows of many sorts at once: one statement says which there are, in their order, and a second one reads them all.

What each sort is asked for stays a queryset of its slice. The second statement is put together once for each table with
what is fetched along, and never asks for more than keys, so it costs as much for ten sorts as for one.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import chain, count
from sys import intern
from typing import Any, Generic, NamedTuple, TypeVar

from django.db import connection
from django.db.models import (
    BigIntegerField,
    BinaryField,
    BooleanField,
    Func,
    JSONField,
    Model,
    QuerySet,
    Subquery,
)
from django.db.models.expressions import RawSQL

from fleet.ground.paging import RowOf, fetched, reader

Row = TypeVar("Row", bound=Model)
# So many questions whoever keeps any keeps: each holds some 20 kilobytes.
MOST_KEPT = 250
# What is told of each row: its key, and what is annotated.
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


class AtOnce(Generic[Row]):
    """So many rows by their keys, as they are annotated and with what they fetch along (`select_related`), each with
    the rows of other sorts that hang on it (by `OuterRef`), by name. Two queries.

    To put this together takes longer than to ask it: whoever asks often keeps it, by all that its querysets go by.
    """

    def __init__(self, rows: QuerySet[Row], hanging: Mapping[str, QuerySet[Any]], many: int = 1) -> None:
        self._names = list(hanging)
        self._parts = [_Part.of(one) for one in (rows, *hanging.values())]
        found = {
            f"found_{n}": AsLists(one, "pk", *part.annotated)
            for n, (one, part) in enumerate(zip(hanging.values(), self._parts[1:], strict=True))
        }
        asked = rows.filter(pk__in=range(many)).annotate(**found)
        sql, given = asked.values_list("pk", *self._parts[0].annotated, *found).query.sql_with_params()
        # Schools ask in the same words.
        self._sql, self._given = intern(sql), given[:-many]

    def __call__(self, keys: Iterable[int]) -> list[tuple[Row, dict[str, list[Any]]]]:
        # An address may name a key that no engine can hold: of none there is no row.
        asked = [key if key <= BigIntegerField.MAX_BIGINT else None for key in keys]
        told = fetched(self._sql, [*self._given, *asked])
        own = 1 + len(self._parts[0].annotated)
        # Of a sort that finds nothing whatever there is, nothing is told.
        found = [[[row[:own]], *(json.loads(one or "[]") for one in row[own:])] for row in told]
        by_key = self._read([list(chain.from_iterable(of)) for of in zip(*found, strict=True)])
        made = []
        for each in found:
            # What was taken away between the two statements is not there any more.
            there = [[rows[key] for key, *_ in of if key in rows] for of, rows in zip(each, by_key, strict=True)]
            made += [(row, dict(zip(self._names, there[1:], strict=True))) for row in there[0]]
        return made

    def _read(self, found: Sequence[Found]) -> list[dict[Any, Any]]:
        """Of each part the rows found, by their keys. One query, of nothing found none."""
        there = [(n, self._parts[n], of) for n, of in enumerate(found) if of]
        by_key: list[dict[Any, Any]] = [{} for _ in found]
        if not there:
            return by_key
        asked = [f"SELECT {n}, told FROM ({part.sort.sql}) AS sort_{n}" for n, part, _ in there]  # noqa: S608
        for n, told in fetched(" UNION ALL ".join(asked), [_keys(of) for *_, of in there]):
            row = self._parts[n].sort.made(json.loads(told))
            by_key[n][row.pk] = row
        for n, part, of in there:
            part.annotate(by_key[n], of)
        return by_key


class _Part(NamedTuple):
    """How the rows of one queryset are read: from which table with what along, and what is told of each by name."""

    sort: _Sort
    annotated: dict[str, Callable[[Any], Any] | None]

    @classmethod
    def of(cls, rows: QuerySet[Any]) -> _Part:
        model: Any = rows.model
        sort = _sorts(model, tuple(_named(rows.query.select_related or {})))
        return cls(sort, {name: reader(one.output_field) for name, one in rows.query.annotations.items()})

    def annotate(self, rows: Mapping[Any, Any], found: Found) -> None:
        for key, *values in found if self.annotated else ():
            if row := rows.get(key):
                for (name, read), value in zip(self.annotated.items(), values, strict=True):
                    setattr(row, name, read(value) if read and value is not None else value)


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
