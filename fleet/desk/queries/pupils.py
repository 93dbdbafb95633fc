"""What a pupil's page shows, gathered from the slices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.utils.translation import gettext as _s

from fleet.ground.paging import ByKey
from fleet.lending.models import Loan, Wish
from fleet.matching.queries.fit import wanted
from fleet.matching.solving.reasons import needed
from fleet.matching.solving.rows import MUST, Weights
from fleet.people.models import Guardian, Pupil
from fleet.register.models import Horn
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed
from fleet.signing.models import OnlineSignature, SheetOut
from fleet.signing.queries.fitting import Misfit, misfits

EARLIER = 5
# What the list of pupils shows of each, of who answers for them, of what they have.
_LISTED = ByKey(Pupil.objects.order_by(), "name", "year", "group")
_ANSWERING = ByKey(Pupil.guardians.through.objects.order_by("pk"), "pupil_id", "guardian__name", by="pupil")
_OUT = ByKey(Loan.objects.open(), "pupil_id", "due_on", "returned_on", "horn__number", "horn__noted_back", by="pupil")


def listed(keys: Sequence[int]) -> list[Any]:
    """The pupils, each with `answered_for_by`, their guardians, and `has_now`, their open loans. Three queries."""
    pupils: dict[int, Any] = {pupil.pk: pupil for pupil in _LISTED(keys)}
    for pupil in pupils.values():
        pupil.answered_for_by, pupil.has_now = [], []
    for one in _ANSWERING(keys):
        pupils[one.pupil_id].answered_for_by.append(one.guardian)
    for loan in _OUT(keys):
        pupils[loan.pupil_id].has_now.append(loan)
    return list(pupils.values())


@dataclass(frozen=True, slots=True)
class PupilPage:
    """`fits` says which horn is wanted, and `fitting` is the query with which the list of horns shows those that are
    ready; `against` names the horns in hand that do not suit. Of `earlier` loans the newest few; `more` says that there
    are others."""

    has_now: list[Loan]
    against: list[tuple[Horn, Misfit]]
    owed: list[Owed]
    fits: str
    fitting: str
    earlier: list[Loan]
    more: bool
    guardians: list[Guardian]
    wishes: list[Wish]


def page_of(pupil: Pupil, today: date) -> PupilPage:
    """A pupil's page, in a fixed number of queries: eight, and one for each sort of thing owed."""
    loans = pupil.loans.select_related("horn__school", "replaced_by__horn")
    has_now = list(loans.open().order_by("due_on", "pk"))
    ended = list(loans.ended().order_by("-returned_on", "-pk")[: EARLIER + 1])
    row = wanted(pupil.school, [pupil])[0][pupil.pk]
    compact = row.needs_compact
    narrowed = {"ready": "yes", "stands_in": row.stand, "wrap": Horn.Wrap.COMPACT if compact else ""}
    against = misfits(pupil.school, [(pupil, loan.horn) for loan in has_now], today=today)
    return PupilPage(
        has_now=has_now,
        against=[(loan.horn, said) for loan in has_now if (said := against.get((pupil.pk, loan.horn_id)))],
        owed=_owed(pupil, {loan.horn_id for loan in has_now}, today),
        fits=needed(row, Weights(wrap=MUST, stand=MUST)) if compact or row.needs_kind or row.stand else _s("any horn"),
        fitting=urlencode({name: value for name, value in narrowed.items() if value}),
        earlier=ended[:EARLIER],
        more=len(ended) > EARLIER,
        wishes=list(pupil.wishes.in_force(today).select_related("horn")),
        guardians=list(pupil.guardians.order_by("sorted_by", "pk")),
    )


def _owed(pupil: Pupil, in_hand: set[int], today: date) -> list[Owed]:
    """What is owed about this pupil, and about the horns they have; what is late first."""
    asked = OnlineSignature.objects.unused().filter(pupil=pupil)
    sheets = SheetOut.objects.not_put_away().filter(pupil=pupil)
    # Keys, which each sort of thing owed finds at once; asked for with each, a school's horns are looked through.
    theirs = {key for some in (pupil.loans.all(), asked, sheets) for key in some.values_list("horn", flat=True)}
    horns = Horn.objects.filter(pk__in=theirs)
    found = [
        owing.said(row, today)
        for owing in owings().values()
        for row in owing.about(horns, pupil.school, today)
        if _pupil_of(row) == pupil.pk or (_pupil_of(row) is None and owing.key_of(row) in in_hand)
    ]
    return sorted(found, key=lambda owed: not owed.late)


def _pupil_of(row: Any) -> int | None:
    """The key of the pupil whom such a row is about, if it is about one."""
    # What was put before a family or printed for it knows its pupil before there is a loan.
    of = row if hasattr(row, "pupil_id") else getattr(row, "loan", None)
    about: int | None = getattr(of, "pupil_id", None)
    return about
