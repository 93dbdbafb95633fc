"""Who waits for which horn, and what is ready for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from typing import NamedTuple

from django.db.models import Count, Q
from django.utils.translation import gettext as _s

from fleet.lending.models import Wish, WishQuerySet
from fleet.people.models import School
from fleet.register.models import Horn, HornQuerySet

# Of what is ready so many are named.
NAMED = 2
ALIKE = ("build", "wrap", "stands_in")


class WishOffer(NamedTuple):
    """Who waits, the first horns that would do and may be lent now, and how many would, but for those kept for
    somebody else."""

    wish: Wish
    ready: list[Horn]
    many: int


def offers(wishes: Sequence[Wish], school: School, today: date) -> list[WishOffer]:
    """What is ready for each of these. Three queries, of no wish none."""
    return _offers(wishes, _ready(school, today)) if wishes else []


def first_offers(wishes: WishQuerySet, school: School, today: date, most: int) -> list[WishOffer]:
    """The first of these for which something is ready, with what. Four queries."""
    ready = _ready(school, today)
    such = wishes.met_by_any(horn for horn, _ in ready.sorts)
    certain = wishes.filter(horn__may_be_lent=True).exclude(horn__in=ready.kept)
    return _offers(list((such | certain)[:most]), ready)


class _Ready(NamedTuple):
    """The horns that may be lent now, those of them kept for somebody, and of the others how many there are of each
    sort, each as a horn of it."""

    horns: HornQuerySet
    kept: list[int]
    sorts: list[tuple[Horn, int]]


def _ready(school: School, today: date) -> _Ready:
    kept, horns = list(reserved_for(school, today)), Horn.objects.at(school).may_be_lent()
    counted = horns.exclude(pk__in=kept).order_by().values_list(*ALIKE).annotate(Count("pk"))
    return _Ready(horns, kept, [(Horn(**dict(zip(ALIKE, sort, strict=True))), many) for *sort, many in counted])


def _offers(wishes: Sequence[Wish], ready: _Ready) -> list[WishOffer]:
    such = [horn for horn, _ in ready.sorts if any(wish.is_met_by(horn) for wish in wishes)]
    wanted = Q(pk__in=[wish.horn_id for wish in wishes if wish.horn_id])
    for horn in such:
        # Of horns that are alike the first do for all who wait for such a one; any of them may be kept for somebody.
        alike = ready.horns.filter(**{name: getattr(horn, name) for name in ALIKE}).by_number()
        wanted |= Q(pk__in=alike.values("pk")[: NAMED + len(ready.kept)])
    first = list(ready.horns.filter(wanted).exclude(pk__in=ready.kept).by_number())
    told = []
    for wish in wishes:
        found = [horn for horn in first if wish.is_met_by(horn)]
        count = len(found) if wish.horn_id else sum(many for horn, many in ready.sorts if wish.is_met_by(horn))
        told.append(WishOffer(wish, found[:NAMED], count))
    return told


def in_force(school: School, today: date) -> list[Wish]:
    """What is waited for and what is kept for somebody, who came first in front. One query."""
    found = Wish.objects.at(school).in_force(today).select_related("pupil", "horn")
    return list(found.order_by("since", "pk"))


def waiting_for(horn: Horn, wishes: Iterable[Wish]) -> list[Wish]:
    """Who of these in force waits for such a horn. No query."""
    return [wish for wish in wishes if wish.reserved_until is None and wish.is_met_by(horn)]


def who_waits(horns: Collection[Horn], school: School, today: date) -> dict[int, str]:
    """What to say of each of these horns that come back, by key: `Ada Quill waits for such a horn.`, with how many
    more, or for whom it is kept; nothing of one that nobody waits for. Two queries, of no horn none."""
    if not horns:
        return {}
    kept = reserved_for(school, today, [horn.pk for horn in horns])
    waiting = list(Wish.objects.at(school).waiting(today))
    said = {}
    for horn in horns:
        such = [wish for wish in waiting if wish.is_met_by(horn)]
        if (mine := kept.get(horn.pk)) is not None:
            said[horn.pk] = _s("It is kept for %(pupil)s %(until)s.") % {"pupil": mine.pupil, "until": mine.until}
        elif such:
            words = _s("%(pupil)s waits for such a horn.")
            if such[1:]:
                words = _s("%(pupil)s waits for such a horn, and %(more)s more.")
            said[horn.pk] = words % {"pupil": such[0].pupil, "more": len(such) - 1}
    return said


def reserved_for(school: School, today: date, horns: Collection[int] | None = None) -> dict[int, Wish]:
    """What keeps these horns, or any of the school's, for a pupil today, by horn. One query."""
    found = Wish.objects.at(school).reserved(today).select_related("pupil", "horn")
    return {wish.horn_id: wish for wish in (found if horns is None else found.filter(horn__in=horns)) if wish.horn_id}
