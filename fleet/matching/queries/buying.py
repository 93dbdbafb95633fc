"""What the classes lack once every horn there is has been looked at, mended, restrung and shared out: what to buy."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import ngettext as _s_many

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import in_reading_order
from fleet.matching.queries.candidates import Pool, gather
from fleet.matching.queries.wishes import weights_of
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.remedies import BUYING, LOOKING, Move, remedies
from fleet.matching.solving.rows import HornRow
from fleet.people.models import Pupil, School
from fleet.people.queries.classes import classes
from fleet.register.models.kinds import stand_in_words

# Pupils times horns up to which matching answers while a page is waited for; beyond, it is asked on purpose.
AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True)
class Lack:
    """So many horns of a sort to buy, and the classes whose pupils they would serve. No pupil is named."""

    what: str
    horns: int
    classes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToLookAt:
    """How many horns only minutes keep back, and how many pupils without one they may serve."""

    horns: int
    serves: int

    def __str__(self) -> str:
        if not self.horns or not self.serves:
            return ""
        pupils = _s_many("%(many)s pupil who has none", "%(many)s pupils who have none", self.serves)
        return _s_many(
            "%(many)s horn could be lent within minutes, once it is identified, checked or cleaned; it may serve "
            "%(pupils)s. See to it before anything is bought.",
            "%(many)s horns could be lent within minutes, once they are identified, checked or cleaned; they may serve "
            "%(pupils)s. See to them before anything is bought.",
            self.horns,
        ) % {"many": self.horns, "pupils": pupils % {"many": self.serves}}


@dataclass(frozen=True, slots=True)
class ToBuy:
    """What is to be looked at before anything is bought, and the lacks that stay then, the most wanted first."""

    first: ToLookAt
    lacks: list[Lack]


def pupils_in_classes(school: School) -> int:
    """How many pupils matching would go through. One query."""
    return Pupil.objects.at(school).filter(left_on=None, group__gt="").count()


def to_look_at(pool: Pool, steps: Sequence[Move]) -> ToLookAt:
    """The horns of the school that only minutes keep back, and how many of them the remedies make use of."""
    used = [step for step in steps if step.remedy.kind in LOOKING and step.remedy.horn.held_by is None]
    return ToLookAt(sum(horn.kept_back_for_minutes for horn in pool.instruments.values()), len(used))


# By kind, and whether it is compact.
BOUGHT = {
    ("", False): _s_lazy("horn that stands in %(stand)s"),
    ("", True): _s_lazy("compact horn that stands in %(stand)s"),
    ("single", False): _s_lazy("single horn that stands in %(stand)s"),
    ("double", False): _s_lazy("double horn that stands in %(stand)s"),
    ("single", True): _s_lazy("compact single horn that stands in %(stand)s"),
    ("double", True): _s_lazy("compact double horn that stands in %(stand)s"),
}


def bought_in_words(horn: HornRow) -> str:
    """A horn to be bought: `compact single horn that stands in F`."""
    return BOUGHT[horn.kind, horn.compact] % {"stand": stand_in_words(horn.stand)}


def to_buy(school: School) -> ToBuy:
    """The horns that matching would buy for the classes as they are in the register.

    Pupils in no class are left out: nobody has said that they are to play.
    """
    groups = [group for group, _ in classes(school) if group]
    if not groups:
        return ToBuy(ToLookAt(0, 0), [])
    pool = gather(school, groups)
    proposal = propose(pool.pupils, pool.horns, weights_of(school))
    wanted: Counter[str] = Counter()
    served: defaultdict[str, set[str]] = defaultdict(set)
    steps = remedies(proposal, pool.could_be)
    for step in steps:
        if step.remedy.kind != BUYING:
            continue
        what = bought_in_words(step.remedy.horn)
        wanted[what] += 1
        served[what] |= {pupil.group for pupil in step.serves}
    lacks = [Lack(what, n, tuple(sorted(served[what], key=in_reading_order))) for what, n in wanted.items()]
    return ToBuy(to_look_at(pool, steps), sorted(lacks, key=lambda lack: (-lack.horns, lack.what)))
