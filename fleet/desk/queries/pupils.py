"""What a pupil's page shows, gathered from the slices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, prefetch_related_objects
from django.utils.translation import gettext as _s

from fleet.ground.paging import ByKey, OnePage, one_page
from fleet.lending.models import Loan, Wish
from fleet.lending.queries.wishes import asked_for, in_force
from fleet.matching.queries.fit import measure_of, measures, misfits
from fleet.matching.solving.reasons import needed
from fleet.matching.solving.rows import MUST, Weights
from fleet.people.models import Guardian, Pupil, School
from fleet.register.models import Horn
from fleet.register.queries.at_once import MOST_KEPT, AtOnce
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed, Owing
from fleet.signing.queries.fitting import Misfit

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
        lambda: Pupil.objects.leaving(today).having_words(words, school=school, walk=True),
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

    pupil: Pupil
    has_now: list[Loan]
    against: list[tuple[Horn, Misfit]]
    owed: list[Owed]
    fits: str
    fitting: str
    earlier: list[Loan]
    more: bool
    guardians: list[Guardian]
    wishes: list[Wish]


def page_of(key: int, school: School, today: date) -> PupilPage | None:
    """The page of the school's pupil with that key, None where there is none, in a fixed number of queries: two, one
    where loans have ended, and one where a horn in hand does not suit."""
    for pupil, rows in _asked(school.settled, today)([key]):
        pupil.school = school
        return _page_of(pupil, rows, today)
    return None


@lru_cache(maxsize=MOST_KEPT)
def _asked(settled: tuple[Any, ...], today: date) -> AtOnce[Pupil]:
    """What is asked about a pupil of a school that settled so, on that day."""
    school, pupil = School.that_settled(settled), OuterRef("pk")
    own = Loan.objects.filter(pupil=pupil)
    # Where horns in hand are looked at, what others wait for by its number is needed too.
    looked_at = Exists(Loan.objects.open().filter(pupil=OuterRef(OuterRef("pk"))))
    hanging = {one.code: _about(one, school, today) for one in owings().values()} | {
        "in hand": own.open().select_related("horn__place").order_by("due_on", "pk"),
        "ended": own.ended().select_related("horn").order_by("-returned_on", "-pk")[: EARLIER + 1],
        "wishes": in_force(school, today).filter(pupil=pupil),
        "asked for": asked_for(school, today).filter(looked_at),
        "guardians": Guardian.objects.filter(pupils=pupil).order_by("sorted_by", "pk"),
        "measure": measures(school, [OuterRef(OuterRef("group"))]),
    }
    return AtOnce(Pupil.objects.at(school).order_by(), hanging)


def _page_of(pupil: Pupil, rows: dict[str, list[Any]], today: date) -> PupilPage:
    has_now, measure = rows["in hand"], measure_of(rows["measure"][0])
    for loan in has_now:
        loan.horn.school = pupil.school
    earlier = rows["ended"][:EARLIER]
    prefetch_related_objects(earlier, Prefetch("replaced_by", Loan.objects.select_related("horn")))
    row = measure.wanted(pupil)
    compact = row.needs_compact
    narrowed = {"ready": "yes", "stands_in": row.stand, "wrap": Horn.Wrap.COMPACT if compact else ""}
    in_hand = [(pupil, loan.horn) for loan in has_now]
    wishes = [*rows["asked for"], *rows["wishes"]]
    against = misfits(pupil.school, in_hand, today=today, wishes=wishes, measure=measure)
    owed = [owing.said(one, today) for code, owing in owings().items() for one in rows[code]]
    return PupilPage(
        pupil=pupil,
        has_now=has_now,
        against=[(loan.horn, said) for loan in has_now if (said := against.get((pupil.pk, loan.horn_id)))],
        owed=sorted(owed, key=lambda one: not one.late),
        fits=needed(row, Weights(wrap=MUST, stand=MUST)) if compact or row.needs_kind or row.stand else _s("any horn"),
        fitting=urlencode({name: value for name, value in narrowed.items() if value}),
        earlier=earlier,
        more=len(rows["ended"]) > EARLIER,
        wishes=rows["wishes"],
        guardians=rows["guardians"],
    )


def _about(owing: Owing, school: School, today: date) -> QuerySet[Any]:
    """Which rows say it of a pupil (`OuterRef`); of those about no pupil, which of the horns that the pupil has."""
    rows, pupil = owing.rows(school, today), OuterRef("pk")
    fields = {field.name: field for field in rows.model._meta.fields}
    has_now = Loan.objects.open().filter(pupil=OuterRef(OuterRef("pk"))).order_by()
    of_horn = Q(**{f"{owing.horn}__in": has_now.values("horn")})
    # What was put before a family or printed for it knows its pupil before there is a loan.
    if "pupil" in fields:
        return rows.filter(Q(pupil=pupil) | Q(pupil=None) & of_horn if fields["pupil"].null else Q(pupil=pupil))
    return rows.filter(Q(loan__pupil=pupil) if "loan" in fields else of_horn)
