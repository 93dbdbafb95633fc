"""One page of a long list, counted to 1,000."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db.models import IntegerField, Model, QuerySet, Subquery
from django.utils.formats import number_format
from django.utils.translation import gettext as _s

COUNTED_TO = 1000
PAGE = 25
# Further on nobody leafs: the database would count its way there row by row, longer the more there are. The search,
# the filters and the other order lead to what lies behind.
LAST_PAGE = 400
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
    """Rows of one page. `total` is exact up to 1,000; `more` says that there are more than that."""

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
    def numbers(self) -> list[int]:
        """Pages near this one that are known to be there, with the first."""
        known = max(-(-self.total // PAGE), self.next or self.number)
        return sorted({1, *range(max(1, self.number - 2), min(known, self.number + 2) + 1)})


class HowMany(Subquery):
    """How many rows a queryset has, counted to one more than 1,000."""

    output_field = IntegerField()
    empty_result_set_value = 0
    template = "(SELECT count(*) FROM (%(subquery)s) AS every)"

    def __init__(self, rows: QuerySet[Any]) -> None:
        super().__init__(rows.order_by().values("pk")[: COUNTED_TO + 1])


def one_page(
    found: QuerySet[Found], shown: QuerySet[Found], *, order: list[Any], number: int, many: int | None = None
) -> OnePage[Found]:
    """Page `number` (from 1; one past the end becomes the last) of what was found, in an order that ends in the key.

    `shown` are the rows as they are wanted; `many` is how many were found, counted to 1,001, where that is known.

    Two queries, however many there are, or one: up to 1,001 keys from the index that covers filter and order, which
    tell how many there are, then the rows by key. All at once would cost SQLite a table of its own for each part.
    """
    ordered, keys = found.order_by(*order), None
    if many is None:
        keys = list(ordered.values_list("pk", flat=True)[: COUNTED_TO + 1])
        many = len(keys)
    if not (more := many > COUNTED_TO):
        number = max(1, min(number, -(-many // PAGE)))
    start = (number - 1) * PAGE
    wanted: Any = ordered.values("pk")[start : start + PAGE + 1]
    if keys is not None and (not more or start + PAGE < len(keys)):
        wanted = keys[start : start + PAGE + 1]
    rows = list(shown.filter(pk__in=wanted).order_by(*order)) if many else []
    if more and not rows and number > 1:
        last = -(-found.order_by()[: number * PAGE].count() // PAGE)
        return one_page(found, shown, order=order, number=max(1, min(last, number - 1)), many=many)
    return OnePage(rows[:PAGE], number, min(many, COUNTED_TO), more, has_next=len(rows) > PAGE)
