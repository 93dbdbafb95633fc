"""Who waits for which horn, and what is ready for them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from typing import NamedTuple

from fleet.lending.models import Wish
from fleet.people.models import School
from fleet.register.models import Horn


class WishOffer(NamedTuple):
    """Who waits, and the horns that would do and may be lent now, but for those kept for somebody else."""

    wish: Wish
    ready: list[Horn]


def offers(wishes: Sequence[Wish], school: School, today: date) -> list[WishOffer]:
    """What is ready for each of these. Two queries, of no wish none."""
    if not wishes:
        return []
    kept = reserved_for(school, today)
    ready = Horn.objects.at(school).may_be_lent().select_related("place")
    horns = [horn for horn in ready.order_by("number_stem", "number_tail", "pk") if horn.pk not in kept]
    return [WishOffer(wish, [horn for horn in horns if wish.is_met_by(horn)]) for wish in wishes]


def waiting_for(horn: Horn, today: date) -> list[Wish]:
    """Who waits for such a horn, who came first in front. One query."""
    return [wish for wish in Wish.objects.at(horn.school).waiting(today) if wish.is_met_by(horn)]


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
        others = f", and {len(such) - 1} more" if such[1:] else ""
        if (mine := kept.get(horn.pk)) is not None:
            said[horn.pk] = f"It is kept for {mine.pupil} {mine.until}."
        elif such:
            said[horn.pk] = f"{such[0].pupil} waits for such a horn{others}."
    return said


def reserved_for(school: School, today: date, horns: Collection[int] | None = None) -> dict[int, Wish]:
    """What keeps these horns, or any of the school's, for a pupil today, by horn. One query."""
    found = Wish.objects.at(school).reserved(today).select_related("pupil", "horn")
    return {wish.horn_id: wish for wish in (found if horns is None else found.filter(horn__in=horns)) if wish.horn_id}
