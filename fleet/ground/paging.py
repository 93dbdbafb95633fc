"""One page of a long list, counted to 1,000, with rows by their keys."""

from __future__ import annotations

import json
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from functools import cached_property
from itertools import chain
from typing import Any, Generic, TypeVar

from django.core.exceptions import EmptyResultSet
from django.db import DEFAULT_DB_ALIAS, connection
from django.db.models import (
    BooleanField,
    DateField,
    DateTimeField,
    DecimalField,
    Field,
    FloatField,
    GeneratedField,
    IntegerField,
    JSONField,
    Model,
    QuerySet,
    Subquery,
    UUIDField,
)
from django.db.models.base import ModelState
from django.utils.formats import number_format
from django.utils.translation import gettext as _s

COUNTED_TO = 1000
PAGE = 25
# Further on nobody leafs: the database would count its way there row by row, longer the more there are. The search,
# the filters and the other order lead to what lies behind.
LAST_PAGE = 400
Statement = tuple[str, tuple[Any, ...]]
NOTHING: Mapping[str, Any] = {}
Row = TypeVar("Row")
Found = TypeVar("Found", bound=Model)


def in_words(many: int) -> str:
    """Of what was counted to one more than 1,000: how many there are, "" of none."""
    if many > COUNTED_TO:
        return _s("more than %(shown)s") % {"shown": number_format(COUNTED_TO, force_grouping=True)}
    return str(many or "")


def counted(rows: QuerySet[Any], *, beyond: int = 0) -> str:
    """How many rows there are after so many, in words. A query that stops at 1,001 of them."""
    return in_words(rows.order_by()[beyond : beyond + COUNTED_TO + 1].count())


@dataclass(frozen=True, slots=True)
class OnePage(Generic[Row]):
    """Rows of one page. `total` is how many there are, or `more` says that there are more than that."""

    rows: list[Row]
    number: int
    total: int
    more: bool
    has_next: bool

    @property
    def first(self) -> int:
        return (self.number - 1) * PAGE + 1

    @property
    def last(self) -> int:
        return self.first + len(self.rows) - 1

    @property
    def previous(self) -> int | None:
        return self.number - 1 if self.number > 1 else None

    @property
    def next(self) -> int | None:
        return self.number + 1 if self.has_next and not self.is_last_shown else None

    @property
    def is_last_shown(self) -> bool:
        """Whether nobody leafs on from here, though there may be more."""
        return self.number >= LAST_PAGE

    @property
    def numbers(self) -> tuple[int, ...]:
        """Pages near this one that are known to be there, with the first."""
        known = max(-(-self.total // PAGE), self.next or self.number)
        return tuple(sorted({1, *range(max(1, self.number - 2), min(known, self.number + 2) + 1)}))


class HowMany(Subquery):
    """How many rows a queryset has, counted to one more than 1,000 and what is `beside` them."""

    output_field = IntegerField()
    empty_result_set_value = 0
    template = "(SELECT count(*) FROM (%(subquery)s) AS every)"

    def __init__(self, rows: QuerySet[Any], *, beside: int = 0) -> None:
        super().__init__(rows.order_by().values("pk")[: COUNTED_TO + 1 + beside])


def _moment(told: str | datetime) -> datetime:
    """SQLite keeps moments by the clock of UTC and does not say so."""
    read = datetime.fromisoformat(told) if isinstance(told, str) else told
    return read if read.tzinfo else read.replace(tzinfo=UTC)


def fetched(sql: str, given: Sequence[Any]) -> list[tuple[Any, ...]]:
    """The rows of a statement, as the engine has their values; none of one without words."""
    if not sql:
        return []
    with connection.cursor() as cursor:
        cursor.execute(sql, given)
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def reader(field: Field[Any, Any]) -> Callable[[Any], Any] | None:
    """What makes of an engine's value, or of the same in JSON, what the column holds; None where it is that already.

    A statement in words gives what the engine has: on SQLite a day is text, and true is one.
    """
    own = field.output_field if isinstance(field, GeneratedField) else field
    if isinstance(own, DateTimeField):
        return _moment
    if isinstance(own, DecimalField):
        places = Decimal(1).scaleb(-own.decimal_places)
        return lambda told: Decimal(str(told)).quantize(places)
    if isinstance(own, JSONField):
        return lambda told: json.loads(told) if isinstance(told, str) else told
    if isinstance(own, (BooleanField, DateField, FloatField, UUIDField)):
        return own.to_python
    return None


def instance(model: type[Model], columns: dict[str, Any], *, adding: bool = False) -> Any:
    """One with these columns, on record or to be added, made as the library unpickles one: a new one is asked for each
    of its columns, which takes as long as the rest of reading it."""
    row: Any = model.__new__(model)
    row.__dict__, row._state = columns, (state := ModelState())
    state.adding, state.db = adding, None if adding else DEFAULT_DB_ALIAS
    return row


class RowOf:
    """What makes an instance of a model of some of a statement's values.

    `columns` are those it has, each with the value's place, by their names or as "pk", and what is `annotated`, of
    which the fields are given. Where the value `key` is None, nothing hangs there.
    """

    def __init__(
        self, model: type[Model], key: int, columns: Iterable[tuple[str, int]], annotated: Mapping[str, Any] = NOTHING
    ) -> None:
        self._model, self._key = model, key
        fields = {one.attname: one for one in model._meta.concrete_fields} | {**annotated}
        named = [(model._meta.pk.attname if name == "pk" else name, at) for name, at in columns]
        self._names = [name for name, _ in named]
        self._places = [at for _, at in named]
        self._read = [(name, read) for name in self._names if (read := reader(fields[name]))]

    def made(self, values: Sequence[Any]) -> Any:
        if values[self._key] is None:
            return None
        told = dict(zip(self._names, map(values.__getitem__, self._places), strict=True))
        for name, read in self._read:
            if (value := told[name]) is not None:
                told[name] = read(value)
        return instance(self._model, told)


class ByKey(Generic[Found]):
    """Rows of a queryset by their keys, or by other columns `by`, in the queryset's order. They hold the columns named
    and what is annotated, and no others; `horn__number` stands on the row's horn.

    The statement is put together once for each number of keys: that takes ten times as long as to run it.
    """

    def __init__(self, rows: QuerySet[Found], *columns: str, by: Sequence[str] = ("pk",)) -> None:
        self._rows, self._by = rows, by
        self._related = list(dict.fromkeys(name.partition("__")[0] for name in columns if "__" in name))
        keys = [f"{name}_id" for name in self._related]
        self._names = list(dict.fromkeys(["pk", *keys, *columns, *rows.query.annotations]))
        self._kept: dict[tuple[int, ...], Statement] = {}

    def __call__(self, *keys: Sequence[Any]) -> list[Found]:
        """Of each column of `by` its keys. One query, or none."""
        many = tuple(map(len, keys))
        if not all(many):
            return []
        if many not in self._kept:
            self._kept[many] = self._put_together(many)
        sql, before = self._kept[many]
        return [self._made(values) for values in fetched(sql, [*before, *chain(*keys)])]

    def _put_together(self, many: tuple[int, ...]) -> Statement:
        """The statement, and what it is given before the keys, which come last."""
        asked = self._rows
        for column, count in zip(self._by, many, strict=True):
            asked = asked.filter(**{f"{column}__in": range(count)})
        sql, given = asked.values_list(*self._names).query.sql_with_params()
        return sql, given[: -sum(many)]

    @cached_property
    def _own(self) -> RowOf:
        own = [(name, at) for at, name in enumerate(self._names) if "__" not in name]
        annotated = {name: one.output_field for name, one in self._rows.query.annotations.items()}
        return RowOf(self._rows.model, 0, own, annotated)

    @cached_property
    def _fetched(self) -> list[tuple[Any, RowOf]]:
        """By each relation what makes the row that hangs there."""
        fetched = []
        for name in self._related:
            relation: Any = self._rows.model._meta.get_field(name)
            key = self._names.index(f"{name}_id")
            beyond = f"{name}__"
            columns = [(one.removeprefix(beyond), at) for at, one in enumerate(self._names) if one.startswith(beyond)]
            fetched.append((relation, RowOf(relation.related_model, key, [("pk", key), *columns])))
        return fetched

    def _made(self, values: Sequence[Any]) -> Found:
        row: Found = self._own.made(values)
        for relation, part in self._fetched:
            relation.set_cached_value(row, part.made(values))
        return row


_KEPT: dict[Hashable, Statement] = {}
MOST_KEPT = 4000


def statement(rows: Callable[[], QuerySet[Any]], like: Hashable = None) -> Statement:
    """A query in words with what it is given; no words of one that finds nothing whatever there is.

    `like` tells it apart from every other: it is put together once then, which takes longer than to ask it.
    """
    # Asked and taken in one: another thread may empty it in between.
    if kept := _KEPT.get(like):
        return kept
    try:
        found: Statement = rows().query.sql_with_params()
    except EmptyResultSet:
        found = "", ()
    if like is not None:
        if len(_KEPT) >= MOST_KEPT:
            _KEPT.clear()
        _KEPT[like] = found
    return found


def raw_values(rows: Callable[[], QuerySet[Any]], like: Hashable = None) -> list[tuple[Any, ...]]:
    """What `rows`, of `values_list`, tell, as the engine has it: JSON is text, on SQLite a day is too (`reader`).

    `like` as in `statement`. One query.
    """
    return fetched(*statement(rows, like))


def _numbers(sql: str, given: Sequence[Any]) -> list[int]:
    return [number for (number,) in fetched(sql, given)]


def _how_many(sql: str, given: Sequence[Any]) -> int:
    return _numbers(f"SELECT count(*) FROM ({sql} LIMIT {COUNTED_TO + 1}) AS every", given)[0] if sql else 0  # noqa: S608


def one_page(
    found: Callable[[], QuerySet[Found]],
    shown: Callable[[list[int]], Iterable[Found]],
    *,
    order: list[Any],
    number: int,
    many: int | None = None,
    like: Hashable = None,
    counted_as: Callable[[], QuerySet[Any]] | None = None,
) -> OnePage[Found]:
    """Page `number` (from 1; one past the end becomes the last) of what was found, in an order that ends in the key.

    `shown` gives the rows of some keys, in any order; `many` is how many were found, counted to 1,001, where that is
    known; `like` as in `statement`, for a list asked for again and again; `counted_as` gives as many rows as were
    found, along an index that says it alone.

    Three queries, however many there are: how many, up to 1,001, along the index that covers filter and order; the keys
    of the page; the rows by key. All at once would cost SQLite a table of its own for each part.
    """
    sql, given = statement(lambda: found().order_by(*order).values_list("pk"), like)
    if many is None:
        as_many = (
            statement(lambda: counted_as().values_list("pk"), like and ("counted", like))
            if counted_as
            else (sql, given)
        )
        many = _how_many(*as_many)
    if not (more := many > COUNTED_TO):
        number = max(1, min(number, -(-many // PAGE)))
    start = (number - 1) * PAGE
    wanted = _numbers(f"{sql} LIMIT {PAGE + 1} OFFSET {start}", given) if many else []
    if more and not wanted and number > 1:
        last = -(-found().order_by()[: number * PAGE].count() // PAGE)
        return one_page(found, shown, order=order, number=max(1, min(last, number - 1)), many=many, like=like)
    rows = {row.pk: row for row in shown(wanted[:PAGE])}
    # Who was struck out since has no row any more.
    page = [rows[key] for key in wanted[:PAGE] if key in rows]
    return OnePage(page, number, min(many, COUNTED_TO), more, has_next=len(wanted) > PAGE)
