"""What the classes lack once every horn there is has been mended, restrung and shared out: what to buy."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from fleet.matching.queries.candidates import gather
from fleet.matching.queries.wishes import weights_of
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.reasons import key_in_words
from fleet.matching.solving.remedies import BUYING, remedies
from fleet.people.models import Pupil, School
from fleet.people.queries.classes import classes

# Pupils times horns up to which matching answers while a page is waited for; beyond, it is asked on purpose.
AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True)
class Lack:
    """So many horns of a sort to buy, and the classes whose pupils they would serve. No pupil is named."""

    what: str
    horns: int
    classes: tuple[str, ...]


def pupils_in_classes(school: School) -> int:
    """How many pupils matching would go through. One query."""
    return Pupil.objects.at(school).filter(left_on=None).exclude(group="").count()


def to_buy(school: School) -> list[Lack]:
    """The horns that matching would buy for the classes as they are in the register, the most wanted first.

    Pupils in no class are left out: nobody has said that they are to play.
    """
    groups = [group for group, _ in classes(school) if group]
    if not groups:
        return []
    pool = gather(school, groups)
    proposal = propose(pool.pupils, pool.horns, weights_of(school))
    wanted: Counter[str] = Counter()
    served: defaultdict[str, set[str]] = defaultdict(set)
    for step in remedies(proposal, pool.could_be):
        if step.remedy.kind != BUYING:
            continue
        horn = step.remedy.horn
        what = f"{'compact ' if horn.compact else ''}{horn.kind} horn that stands in {key_in_words(horn.stand)}"
        wanted[what] += 1
        served[what] |= {pupil.group for pupil in step.serves}
    lacks = [Lack(what, n, tuple(sorted(served[what], key=str.casefold))) for what, n in wanted.items()]
    return sorted(lacks, key=lambda lack: (-lack.horns, lack.what))
