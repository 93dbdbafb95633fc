"""One page of a long list, counted to 1,000."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db.models import Model, QuerySet
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


def counted(rows: QuerySet[Any]) -> str:
    """How many rows there are, in words. A query that stops at 1,001."""
    return in_words(rows.order_by()[: COUNTED_TO + 1].count())


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


def one_page(found: QuerySet[Found], shown: QuerySet[Found], *, order: list[str], number: int) -> OnePage[Found]:
    """Page `number` (from 1; one past the end becomes the last) of what was found, in an order that ends in the key.

    Two queries: first the keys, which tell how many there are, then the page's rows by key, `shown` as they are wanted.
    """
    keys = list(found.order_by(*order).values_list("pk", flat=True)[: max(COUNTED_TO, number * PAGE) + 1])
    number = max(1, min(number, -(-len(keys) // PAGE)))
    start = (number - 1) * PAGE
    rows = shown.in_bulk(keys[start : start + PAGE])
    return OnePage(
        rows=[rows[key] for key in keys[start : start + PAGE] if key in rows],
        number=number,
        total=min(len(keys), COUNTED_TO),
        more=len(keys) > COUNTED_TO,
        has_next=start + PAGE < len(keys),
    )
