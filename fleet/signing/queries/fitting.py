"""Whether a horn suits the pupil who is to have it. The rules are those of matching, which stands above and is told."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from importlib import import_module

from django.conf import settings

from fleet.lending.models import Wish
from fleet.people.models import Pupil, School
from fleet.register.models import Horn


@dataclass(frozen=True, slots=True)
class Misfit:
    """What speaks against a horn in a pupil's hands, in sentences, and a horn that suits them and may be lent now, None
    where there is none. It warns and forbids nothing."""

    words: list[str]
    better: Horn | None


def misfits(
    school: School,
    pairs: Sequence[tuple[Pupil, Horn]],
    *,
    today: date,
    taken: Collection[int] = (),
    with_better: bool = True,
    wishes: Sequence[Wish] | None = None,
) -> dict[tuple[int, int], Misfit]:
    """Those of these pairs that something speaks against, by the keys of pupil and horn. No horn is named as better
    twice, and none of those `taken`; without `with_better` none at all. Two queries, a third where anything speaks
    against one and a better horn is looked for; one less for whom the `wishes` in force are at hand."""
    teller = import_module(settings.TELL_OF_FIT)
    found: dict[tuple[int, int], Misfit] = teller.misfits(
        school, pairs, today=today, taken=taken, with_better=with_better, wishes=wishes
    )
    return found
