"""Pairing a class with horns by their numbers: typed, or read from the labels by a scanner that types."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _s

from fleet.lending.queries.loans import has_now
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from fleet.register.queries.asked_for import horn_told, horns_told


@dataclass
class Wanted:
    """One pupil with what was typed, and what is wrong with that."""

    pupil: Pupil
    has_now: list[Horn]
    typed: str = ""
    wrong: str = ""
    horn: Horn | None = None
    # The first line without a number: where the next scan goes.
    is_next: bool = False

    @property
    def name(self) -> str:
        return f"number-{self.pupil.pk}"


@dataclass
class Pairing:
    wanted: list[Wanted]
    pairs: list[tuple[int, int]] = field(default_factory=list)

    @property
    def wrong(self) -> bool:
        return any(one.wrong for one in self.wanted)


def pair_by_number(school: School, group: str, said: Mapping[str, str]) -> Pairing:
    """The pupils of a class with the numbers typed for them. Three queries, a fourth once something was typed,
    up to three more for each that is no number as it stands.

    A number may also be the code on a horn's label, or the label's whole address as a scanner reads it.
    """
    pupils = Pupil.objects.at(school).filter(left_on=None, group=group).in_order().prefetch_related(has_now())
    wanted = [Wanted(pupil, [loan.horn for loan in vars(pupil)["has_now"]]) for pupil in pupils]
    pairing = Pairing(wanted)
    for one in wanted:
        one.typed = said.get(one.name, "").replace("\0", "").strip()[:120]
    horns = horns_told(school, {one.typed for one in wanted if one.typed})
    taken: dict[int, str] = {}
    for one in wanted:
        if not one.typed:
            continue
        horn = horns.get(one.typed) or horn_told(school, one.typed)
        if horn is None:
            one.wrong = _s("No horn has the number %(typed)s.") % {"typed": one.typed}
        elif horn.pk in taken:
            one.wrong = _s("%(horn)s is given to %(pupil)s already.") % {"horn": horn, "pupil": taken[horn.pk]}
        else:
            taken[horn.pk], one.horn = one.pupil.name, horn
            # A scanned address becomes the number it stands for, or a class of them would outgrow the page's address.
            one.typed = horn.number
            pairing.pairs.append((one.pupil.pk, horn.pk))
    empty = next((one for one in wanted if not one.typed and not one.has_now), None)
    if empty is not None:
        empty.is_next = True
    return pairing
