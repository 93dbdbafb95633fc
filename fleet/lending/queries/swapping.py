"""Horns that could go out in exchange for another."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from django.db.models import Q

from fleet.lending.models import Loan
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of

SORT = ("build", "wrap", "stands_in")


def instead_of(loan: Loan, most: int) -> list[Horn]:
    """The first so many horns that could go out in exchange: the same kind and stand first, then the same wrap, the
    same stand, the others; what is no French horn comes last for a pupil who plays one.

    Two queries, up to six where few are alike.
    """
    kind = build_of(loan.horn.build)

    def near(sort: Sequence[str]) -> int:
        build, wrap, stands_in = sort
        known = build_of(build)
        if kind is not None and known is not None and known.is_french_horn != kind.is_french_horn:
            return 4
        if stands_in != loan.horn.stands_in:
            return 3
        return 0 if build == loan.horn.build else 1 if wrap == loan.horn.wrap else 2

    ready = Horn.objects.at(loan.horn.school).may_be_lent()
    found: list[Horn] = []
    for _, sorts in groupby(sorted(ready.first_of_each(*SORT).values_list(*SORT), key=near), key=near):
        wanted = Q()
        for sort in sorts:
            such = ready.filter(**dict(zip(SORT, sort, strict=True)))
            wanted |= Q(pk__in=such.by_number().values("pk")[:most])
        found += ready.filter(wanted).by_number()[: most - len(found)]
        if len(found) == most:
            break
    return found
