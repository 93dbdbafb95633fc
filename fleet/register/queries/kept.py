"""What the rows say of the columns kept on a horn.

Horns stand below loans, jobs and signatures, and yet what is kept on them follows from all three. So each slice tells
its share: the modules of `settings.TELL_OF_HORNS` have `kept()`, a dictionary of column names with the expression over
a horn's row that gives each. A yes-or-no column may be told by several, and is yes when any of them says so.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import cache, lru_cache, reduce
from importlib import import_module
from operator import or_
from types import ModuleType
from typing import Any

from django.conf import settings
from django.db.models import BooleanField, ExpressionWrapper, Q

from fleet.ground.paging import fetched
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.kept import Kept, Whereabouts

KEPT = tuple(one.name for one in Kept._meta.local_fields if not one.generated)


@lru_cache(maxsize=1)
def tellers() -> tuple[ModuleType, ...]:
    return tuple(import_module(name) for name in settings.TELL_OF_HORNS)


@lru_cache(maxsize=1)
def told() -> dict[str, Any]:
    """The expression over a horn's row that gives each kept column."""
    shares: dict[str, list[Any]] = {}
    for teller in tellers():
        for column, expression in teller.kept().items():
            shares.setdefault(column, []).append(expression)
    return {column: _any(said) if len(said) > 1 else said[0] for column, said in shares.items()}


def _any(said: list[Any]) -> Any:
    return ExpressionWrapper(reduce(or_, (Q(one) for one in said)), output_field=BooleanField())


def as_told(horns: HornQuerySet) -> HornQuerySet:
    """The horns with `told_<column>` beside each kept column. One query, for one horn or ten thousand."""
    return horns.annotate(**{f"told_{column}": expression for column, expression in told().items()})


def told_of(keys: Collection[int]) -> dict[int, dict[str, Any]]:
    """What the rows say of these horns: by the key of each, what each kept column is to be. One query."""
    if not keys:
        return {}
    sql, params = _query(len(keys))
    fields: list[tuple[str, Any]] = [(column, Horn._meta.get_field(column)) for column in KEPT]
    # A query in words gives what the engine has: on SQLite a day is text.
    return {
        key: {column: field.to_python(value) for (column, field), value in zip(fields, values, strict=True)}
        for key, *values in fetched(sql, [*params, *keys])
    }


@lru_cache(maxsize=64)
def _query(how_many: int) -> tuple[str, tuple[Any, ...]]:
    """The query for so many horns, without their keys, which come last. To put it together takes longer than to run
    it, and it runs in every action."""
    columns = [f"told_{column}" for column in KEPT]
    asked = as_told(Horn.objects.filter(pk__in=range(how_many))).values_list("pk", *columns)
    sql, params = asked.query.sql_with_params()
    return sql, params[:-how_many]


@cache
def where_kept(where: str, noted_back: bool) -> Whereabouts:
    """Where a horn is as its columns keep it, without the words: for what is asked of many."""
    return Whereabouts(where, "", noted=noted_back and where == Horn.Where.OUT)


def differences(horn: Any) -> dict[str, tuple[Any, Any]]:
    """Where a horn from `as_told` differs from its rows: by column, what is kept and what the rows say."""
    pairs = {column: (getattr(horn, column), getattr(horn, f"told_{column}")) for column in KEPT}
    return {column: pair for column, pair in pairs.items() if pair[0] != pair[1]}
