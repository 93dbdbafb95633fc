"""The one writer of what is kept on a horn so that lists are quick."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from typing import Any

from django.conf import settings
from django.utils.module_loading import import_string

from fleet.register.models import Horn
from fleet.register.queries.kept import KEPT, told_of

# So many horns are read and written at a time, whatever the size of a list.
AT_ONCE = 500
# What follows from the place and from who has the horn.
FROM_PLACE_AND_HOLDER = {"search", "place_order"}


def keep(horns: Iterable[Horn]) -> None:
    """Writes the kept columns of these horns from the rows, and on the objects given, at the end of an action.

    The caller holds the transaction. The horns' rows are locked in the order of their keys, so that two actions about
    the same horns wait for each other and never for ever; only what differs is written, the search with it.
    """
    given: dict[int, list[Horn]] = {}
    for horn in horns:
        given.setdefault(horn.pk, []).append(horn)
    _keep_all(given)


def keep_all(keys: Iterable[int]) -> None:
    """`keep` for horns nobody has in hand, by their keys."""
    _keep_all({key: [] for key in keys})


def keep_school(key: int) -> None:
    keep_all(Horn.objects.filter(school=key).values_list("pk", flat=True))


def _keep_all(given: dict[int, list[Horn]]) -> None:
    keys = sorted(given)
    some = [keys[start : start + AT_ONCE] for start in range(0, len(keys), AT_ONCE)]
    for these in some:
        _keep({key: given[key] for key in these})
    # Behind all of them: what hangs on a horn is held after every horn.
    for these in some:
        _keep_with_horns()(these)


def _keep(given: dict[int, list[Horn]]) -> None:
    # Locked in a query of its own: what a waiting query read beside the row, its place too, would be as old as its
    # beginning.
    locked = Horn.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=given)
    rows = {row.pk: row for row in locked.order_by("pk").prefetch_related("place")}
    changed: list[Horn] = []
    columns: set[str] = set()
    for key, told in told_of(rows).items():
        row = rows[key]
        differs = [column for column in KEPT if getattr(row, column) != told[column]]
        for one in (row, *given[key]):
            for column in KEPT:
                setattr(one, column, told[column])
        before = _derived(row)
        row.derive()
        if differs or _derived(row) != before:
            changed.append(row)
            columns.update(differs)
    if changed:
        Horn.objects.bulk_update(changed, sorted(columns | FROM_PLACE_AND_HOLDER), batch_size=100)


@cache
def _keep_with_horns() -> Callable[[Sequence[int]], Any]:
    keeper: Callable[[Sequence[int]], Any] = import_string(settings.KEEP_WITH_HORNS)
    return keeper


def _derived(row: Horn) -> list[str]:
    return [getattr(row, column) for column in sorted(FROM_PLACE_AND_HOLDER)]
