"""The one reader of what is so about horns: where they are, whether they may be lent, and what is owed.

Where a horn is and whether it may be lent stands on its own row (`Horn.whereabouts`, `Horn.kept_back`,
`Horn.objects.may_be_lent()`). What is owed is told by the slices, each its share (`OWING` in the modules of
`settings.TELL_OF_HORNS`). Every page, list, print, letter, figure and filter asks here and works nothing out again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from django.db.models import Exists, OuterRef, Q

from fleet.ground.refusal import Reason
from fleet.people.models import School
from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.kept import tellers
from fleet.register.queries.owing import Owed, Owing


@dataclass(frozen=True, slots=True)
class HornNow:
    """What is so about one horn: the horn itself, what is owed about it, what is late first, and the rows that say it,
    by its code."""

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


def horn_now(horn: Horn, *, today: date) -> HornNow:
    """What is so about this horn. As many queries as `horns_now`."""
    return horns_now(Horn.objects.filter(pk=horn.pk), school=horn.school, today=today)[horn.pk]


def horns_now(horns: HornQuerySet, *, school: School, today: date) -> dict[int, HornNow]:
    """What is so about these horns of one school, by their keys. One query for the horns, with what is owed about
    each, and one for each sort of it whose rows are not the horns' own, whether it is one horn or ten thousand."""
    owed = {
        _flag(one.code): Exists(one.rows(school, today).filter(**{one.horn: OuterRef("pk")}).order_by())
        for one in owings().values()
    }
    found = {horn.pk: HornNow(horn) for horn in horns.select_related("place", "school").annotate(**owed)}
    for owing in owings().values():
        owes = [one.horn for one in found.values() if getattr(one.horn, _flag(owing.code))]
        for row in owes if owing.is_of_row else owing.about(horns.order_by(), school, today) if owes else ():
            now = found[owing.key_of(row)]
            now.owed.append(owing.said(row, today))
            now.rows.setdefault(owing.code, []).append(row)
    for one in found.values():
        one.owed.sort(key=lambda owed: not owed.late)
    return found


def _flag(code: str) -> str:
    return f"owes_{code.replace('-', '_')}"


def owing_something(horns: HornQuerySet, *, school: School, today: date, code: str = "") -> HornQuerySet:
    """Those of a school's horns about which something is owed, or what that code names."""
    wanted = [owings()[code]] if code else list(owings().values())
    said = Q(pk__in=[])
    for owing in wanted:
        said |= Q(pk__in=owing.horns(school, today))
    return horns.filter(said)
