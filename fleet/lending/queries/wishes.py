"""Who waits for which horn, and what is ready for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from functools import lru_cache
from typing import Any, NamedTuple

from django.db.models import OuterRef, Q, QuerySet
from django.utils.translation import gettext as _s

from fleet.ground.paging import HowMany, raw_values
from fleet.lending.models import Wish, WishQuerySet
from fleet.people.models import School
from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.at_once import MOST_KEPT, AsLists, AtOnce

# Of what is ready so many are named.
NAMED = 2
ALIKE = ("build", "wrap", "stands_in")
SORT = (*ALIKE, "many")


class WishOffer(NamedTuple):
    """Who waits, the first horns that would do and may be lent now, and how many would, but for those kept for
    somebody else: of each sort they are counted to 1,000 more than are named."""

    wish: Wish
    ready: list[Horn]
    many: int


def offers(wishes: Sequence[Wish], school: School, today: date) -> list[WishOffer]:
    """What is ready for each of these. Two queries, of no wish none."""
    if not wishes:
        return []
    like = ("sorts ready", school.pk, today)
    alike = _horns_of(raw_values(lambda: _sorts(school, today).values_list(*SORT), like))
    such = [horn for horn, _ in alike if any(wish.is_met_by(horn) for wish in wishes)]
    certain = [wish.horn_id for wish in wishes if wish.horn_id]
    return _offers(wishes, list(_first(_ready(school, today), such, certain)), alike)


def sorts_ready(school: School, today: date) -> AsLists:
    """Which sorts of horns may be lent now, and how many of each."""
    return AsLists(_sorts(school, today), *SORT)


def first_offers(school: School, today: date, sorts: Iterable[Sequence[Any]], most: int) -> list[WishOffer]:
    """The first who wait and for whom something is ready, with what; `sorts` are those ready. Two queries."""
    alike = _horns_of(sorts)
    such = tuple(sorted((horn.build, horn.wrap, horn.stands_in) for horn, _ in alike))
    [(_, rows)] = _asked(school.settled, today, such, most)([school.pk])
    return _offers(rows["wishes"], rows["horns"], alike)


@lru_cache(maxsize=MOST_KEPT)
def _asked(settled: tuple[Any, ...], today: date, sorts: tuple[tuple[str, ...], ...], most: int) -> AtOnce[School]:
    """What is asked of a school that settled so, where horns of these sorts are ready on that day."""
    school, such = School.that_settled(settled), [horn for horn, _ in _horns_of((*sort, 0) for sort in sorts)]
    wishes, kept = Wish.objects.at(school).waiting(today), _kept(school, today)
    certain = Q(horn__isnull=False, horn__may_be_lent=True) & ~Q(horn__in=kept)
    found = {"wishes": wishes.filter(Wish.objects.met_by_any(such) | certain)[:most]}
    horns = _first(_ready(school, today), such, wishes.filter(certain).values("horn")[:most])
    return AtOnce(School.objects.all(), {**found, "horns": horns})


def _kept(school: School, today: date) -> QuerySet[Any, Any]:
    """The keys of the horns that are kept for somebody."""
    return Wish.objects.at(school).reserved(today).order_by().values("horn")


def _ready(school: School, today: date) -> HornQuerySet:
    """The horns that may be lent now, but for those kept for somebody."""
    return Horn.objects.at(school).may_be_lent().exclude(pk__in=_kept(school, today))


def _sorts(school: School, today: date) -> QuerySet[Any]:
    ready = _ready(school, today)
    alike = ready.filter(**{name: OuterRef(name) for name in ALIKE})
    found: QuerySet[Any] = ready.first_of_each(*ALIKE).values(*ALIKE).annotate(many=HowMany(alike, beside=NAMED))
    return found


def _horns_of(sorts: Iterable[Sequence[Any]]) -> list[tuple[Horn, int]]:
    """Each sort as a horn of it, and how many there are."""
    return [(Horn(**dict(zip(ALIKE, sort, strict=True))), many) for *sort, many in sorts]


def _first(ready: HornQuerySet, sorts: Iterable[Horn], certain: Any) -> HornQuerySet:
    """Of horns that are alike the first, which do for all who wait for such a one; with those waited for by name."""
    wanted = Q(pk__in=certain)
    for such in sorts:
        like_it = ready.filter(**{name: getattr(such, name) for name in ALIKE}).by_number()
        wanted |= Q(pk__in=like_it.values("pk")[:NAMED])
    return ready.filter(wanted).by_number()


def _offers(wishes: Sequence[Wish], first: Sequence[Horn], alike: Sequence[tuple[Horn, int]]) -> list[WishOffer]:
    told = []
    for wish in wishes:
        found = [horn for horn in first if wish.is_met_by(horn)]
        count = len(found) if wish.horn_id else sum(many for horn, many in alike if wish.is_met_by(horn))
        told.append(WishOffer(wish, found[:NAMED], count))
    return told


def in_force(school: School, today: date) -> WishQuerySet:
    """What is waited for and what is kept for somebody, who came first in front."""
    found = Wish.objects.at(school).in_force(today).select_related("pupil", "horn")
    return found.order_by("since", "pk")


def asked_for(school: School, today: date) -> WishQuerySet:
    """Those of them that are for a certain horn."""
    return in_force(school, today).filter(horn__isnull=False)


def waiting_for(horn: Horn, today: date, most: int) -> list[Wish]:
    """The first who wait for such a horn. One query."""
    waiting = Wish.objects.at(horn.school).waiting(today)
    return list(waiting.filter(Q(horn=horn) | Wish.objects.met_by_any([horn]))[:most])


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
