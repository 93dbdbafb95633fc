"""The one reader of what is so about horns: where they are, whether they may be lent, and what is owed.

Where a horn is and whether it may be lent stands on its own row (`Horn.whereabouts`, `Horn.kept_back`,
`Horn.objects.may_be_lent()`). What is owed is told by the slices, each its share (`OWING` in the modules of
`settings.TELL_OF_HORNS`). Every page, list, print, letter, figure and filter asks here and works nothing out again.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.ground.refusal import Reason
from fleet.people.models import School
from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.at_once import MOST_KEPT, AtOnce
from fleet.register.queries.kept import tellers
from fleet.register.queries.owing import Owed, Owing


@dataclass(frozen=True, slots=True)
class HornNow:
    """What is so about one horn: the horn itself, what is owed about it, what is late first, and the rows that say it,
    by its code, with what else was asked for."""

    horn: Horn
    owed: list[Owed] = field(default_factory=list)
    rows: dict[str, list[Any]] = field(default_factory=dict)

    @property
    def may_be_lent(self) -> bool:
        return not self.horn.kept_back

    @property
    def kept_back(self) -> list[Reason]:
        return self.horn.kept_back


@lru_cache(maxsize=1)
def owings() -> dict[str, Owing]:
    """Everything that can be owed about a horn, by its code, in the order in which it presses."""
    return {one.code: one for teller in reversed(tellers()) for one in teller.OWING}


# Rows of other sorts, by name, asked for by nothing but school and day.
Beside = Callable[[School, date], Mapping[str, QuerySet[Any]]]


def nothing(school: School, today: date) -> Mapping[str, QuerySet[Any]]:
    return {}


def horns_now(keys: Collection[int], *, school: School, today: date, beside: Beside = nothing) -> dict[int, HornNow]:
    """What is so about these horns, as far as they are the school's, by their keys, with the rows `beside` that hang on
    each (by `OuterRef`). Two queries, whether it is one horn or ten thousand, and whatever is owed."""
    found = {}
    for horn, rows in _asked(len(keys), school.settled, today, beside)(keys) if keys else ():
        horn.school = school
        rows |= {code: [horn] for code in owings() if getattr(horn, _flag(code), False)}
        owed = [one.said(row, today) for code, one in owings().items() for row in rows.get(code, ())]
        found[horn.pk] = HornNow(horn, sorted(owed, key=lambda one: not one.late), rows)
    return found


@lru_cache(maxsize=MOST_KEPT)
def _asked(many: int, settled: tuple[Any, ...], today: date, beside: Beside) -> AtOnce[Horn]:
    """What is asked about so many horns of a school that settled so, on that day."""
    school = School.that_settled(settled)
    asked = {one.code: one.rows(school, today).filter(**{one.horn: OuterRef("pk")}) for one in owings().values()}
    of_row = {_flag(code): Exists(asked.pop(code).order_by()) for code, one in owings().items() if one.is_of_row}
    horns = Horn.objects.at(school).select_related("place", "created_by").annotate(**of_row).order_by()
    return AtOnce(horns, asked | dict(beside(school, today)), many)


def _flag(code: str) -> str:
    return f"owes_{code.replace('-', '_')}"


def owing_something(horns: HornQuerySet, *, school: School, today: date, code: str = "") -> HornQuerySet:
    """Those of a school's horns about which something is owed, or what that code names."""
    wanted = [owings()[code]] if code else list(owings().values())
    said = Q(pk__in=[])
    for owing in wanted:
        said |= Q(pk__in=owing.horns(school, today))
    return horns.filter(said)
