"""What a pupil's page shows, gathered from the slices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.db.models import Exists, Q, QuerySet
from django.utils.translation import gettext as _s

from fleet.ground.paging import ByKey, OnePage, one_page
from fleet.lending.models import Loan, Wish
from fleet.lending.queries.wishes import in_force
from fleet.matching.queries.fit import wanted
from fleet.matching.solving.reasons import needed
from fleet.matching.solving.rows import MUST, Weights
from fleet.people.models import Guardian, Pupil, School
from fleet.register.models import Horn
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed, Owing
from fleet.signing.queries.fitting import Misfit, misfits

EARLIER = 5
# What the list of pupils shows of each, of who answers for them, of what they have.
_LISTED = ByKey(Pupil.objects.order_by(), "name", "year", "group")
_ANSWERING = ByKey(Pupil.guardians.through.objects.order_by("pk"), "pupil_id", "guardian__name", by=["pupil"])
_OUT = ByKey(Loan.objects.open(), "pupil_id", "due_on", "returned_on", "horn__number", "horn__noted_back", by=["pupil"])


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


def leaving(school: School, words: str, today: date) -> OnePage[Pupil]:
    """The first who leave, by the day, of those that have these words. One query where nobody does, else three."""
    return one_page(
        lambda: Pupil.objects.at(school).leaving(today).having_words(words),
        lambda keys: Pupil.objects.in_bulk(keys).values(),
        order=["left_on", "sorted_by", "pk"],
        number=1,
        like=None if words else ("leaving", school.pk, today),
    )


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
    """A pupil's page, in a fixed number of queries: seven, and one for each sort of thing that is owed."""
    newest = pupil.loans.ended().order_by("-returned_on", "-pk")[: EARLIER + 1]
    shown = pupil.loans.filter(Q(returned_on=None) | Q(pk__in=newest.values("pk")))
    loans = list(shown.select_related("horn__school", "replaced_by__horn").order_by("due_on", "pk"))
    has_now = [loan for loan in loans if loan.is_open]
    ended = sorted((loan for loan in loans if not loan.is_open), key=lambda loan: (loan.returned_on, loan.pk))[::-1]
    # Where horns in hand are looked at, what all wait for is needed; else what this pupil does.
    wishes = list(in_force(pupil.school, today) if has_now else pupil.wishes.in_force(today).select_related("horn"))
    row = wanted(pupil.school, [pupil])[0][pupil.pk]
    compact = row.needs_compact
    narrowed = {"ready": "yes", "stands_in": row.stand, "wrap": Horn.Wrap.COMPACT if compact else ""}
    against = misfits(pupil.school, [(pupil, loan.horn) for loan in has_now], today=today, wishes=wishes)
    return PupilPage(
        has_now=has_now,
        against=[(loan.horn, said) for loan in has_now if (said := against.get((pupil.pk, loan.horn_id)))],
        owed=_owed(pupil, {loan.horn_id for loan in has_now}, today),
        fits=needed(row, Weights(wrap=MUST, stand=MUST)) if compact or row.needs_kind or row.stand else _s("any horn"),
        fitting=urlencode({name: value for name, value in narrowed.items() if value}),
        earlier=ended[:EARLIER],
        more=len(ended) > EARLIER,
        wishes=[wish for wish in wishes if wish.pupil_id == pupil.pk],
        guardians=list(pupil.guardians.order_by("sorted_by", "pk")),
    )


def _owed(pupil: Pupil, in_hand: set[int], today: date) -> list[Owed]:
    """What is owed about this pupil, and about the horns they have; what is late first. One query says which sorts."""
    about = {f"owes_{n}": (one, _about(one, pupil, in_hand, today)) for n, one in enumerate(owings().values())}
    there = {name: Exists(rows.order_by()) for name, (_, rows) in about.items()}
    owes = dict[str, Any](School.objects.filter(pk=pupil.school_id).values(**there).get())
    found = [owing.said(row, today) for name, (owing, rows) in about.items() if owes[name] for row in rows]
    return sorted(found, key=lambda owed: not owed.late)


def _about(owing: Owing, pupil: Pupil, in_hand: set[int], today: date) -> QuerySet[Any]:
    """Which rows say it of this pupil; of those about no pupil, which of the horns in hand."""
    rows = owing.rows(pupil.school, today)
    fields = {field.name: field for field in rows.model._meta.fields}
    of_horn = Q(**{f"{owing.horn}__in": in_hand})
    # What was put before a family or printed for it knows its pupil before there is a loan.
    if "pupil" in fields:
        return rows.filter(Q(pupil=pupil) | Q(pupil=None) & of_horn if fields["pupil"].null else Q(pupil=pupil))
    return rows.filter(Q(loan__pupil=pupil) if "loan" in fields else of_horn)
