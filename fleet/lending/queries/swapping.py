"""Horns that could go out in exchange for another."""

from __future__ import annotations

from django.db.models import Case, When

from fleet.lending.models import Loan
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.kinds import build_of
from identify.core.horns.catalogue import catalogue


def instead_of(loan: Loan) -> HornQuerySet:
    """Horns that could go out in exchange: the same kind and stand first, then the same wrap, the same stand, the
    others; what is no French horn comes last for a pupil who plays one."""
    horn, built = loan.horn, build_of(loan.horn.build)
    known = catalogue().values()
    others = [one.code for one in known if built is not None and one.is_french_horn != built.is_french_horn]
    near = Case(
        When(build__in=others, then=4),
        When(build=horn.build, stands_in=horn.stands_in, then=0),
        When(wrap=horn.wrap, stands_in=horn.stands_in, then=1),
        When(stands_in=horn.stands_in, then=2),
        default=3,
    )
    fit = Horn.objects.at(loan.horn.school).may_be_lent()
    return fit.order_by(near, "number_stem", "number_tail", "pk")
