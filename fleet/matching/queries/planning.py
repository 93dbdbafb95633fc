"""What to buy, mend and restring over some years for a budget, in words: read from matching, solved as a whole."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import in_reading_order
from fleet.matching.queries.buying import bought_in_words
from fleet.matching.queries.candidates import Pool, gather
from fleet.matching.queries.prices import priced_as
from fleet.matching.queries.wishes import weights_of
from fleet.matching.solving.points import points
from fleet.matching.solving.rows import HornRow, PupilRow, Weights
from fleet.matching.solving.years import (
    BUY,
    MEND,
    RESTRING,
    AlikeHorns,
    Offer,
    YearsDeed,
    YearsPlan,
    YearsTask,
    best_plan,
    served_by,
)
from fleet.people.models import School
from fleet.people.queries.classes import classes
from fleet.register.models import Horn
from fleet.register.models.kinds import stand_in_words

# One horn, and several.
DONE = {
    BUY: (_s_lazy("Buy a %(horn)s"), _s_lazy("Buy %(number)s × %(horn)s")),
    MEND: (_s_lazy("Mend a %(horn)s"), _s_lazy("Mend %(number)s × %(horn)s")),
    RESTRING: (_s_lazy("Restring a %(horn)s"), _s_lazy("Restring %(number)s × %(horn)s")),
}


@dataclass(frozen=True, slots=True)
class BuyingAsked:
    """What a plan is asked for. Money is the school's; `prices` are those of a horn of each sort."""

    budget: Decimal
    years: int
    saved: bool
    more: int
    lasts: int
    mend: Decimal
    restring: Decimal
    prices: dict[str, Decimal]


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """`Buy 2 × single horn that stands in F` with its horns, where it is about some there are, its cost and why."""

    what: str
    horns: tuple[Horn, ...]
    cost: Decimal
    why: str


@dataclass(frozen=True, slots=True)
class PlannedYear:
    """A year's deeds; `without` are the classes of those who stay without a horn, with how many."""

    year: int
    lines: tuple[PlannedLine, ...]
    spent: Decimal
    served: int
    pupils: int
    without: tuple[tuple[str, int], ...]

    @property
    def left(self) -> int:
        return self.pupils - self.served


@dataclass(frozen=True, slots=True)
class Planned:
    """`before` is how many pupils the first year would serve if nothing were done; `minutes` how many horns count as
    seen to that only minutes keep back."""

    years: tuple[PlannedYear, ...]
    before: int
    minutes: int
    proven: bool

    @property
    def spent(self) -> Decimal:
        return sum((year.spent for year in self.years), Decimal(0))


@dataclass(slots=True)
class _Kinds:
    """The needs and the horns of a school as the program takes them, with what stands behind the places."""

    needs: list[PupilRow] = field(default_factory=list)
    pupils: list[int] = field(default_factory=list)
    classes: list[set[str]] = field(default_factory=list)
    stock: list[AlikeHorns] = field(default_factory=list)
    horns: list[list[HornRow]] = field(default_factory=list)
    offered: list[HornRow] = field(default_factory=list)


def planned(school: School, asked: BuyingAsked, today: date) -> Planned | None:
    """The plan for the classes as they are in the register; None where no pupil is in a class."""
    pool = gather(school, [group for group, _ in classes(school) if group])
    if not pool.pupils:
        return None
    kinds = _needs(pool.pupils)
    weights = weights_of(school)
    _sort_horns(kinds, pool, asked, today, weights)
    task = YearsTask(
        needs=_needs_by_year(kinds, asked),
        stock=tuple(kinds.stock),
        offers=tuple(
            Offer(serves, _cents(asked.prices[priced_as(horn.kind, horn.compact)]))
            for horn, serves in zip(kinds.offered, _serves(kinds.needs, kinds.offered, weights), strict=True)
        ),
        budgets=(_cents(asked.budget),) * asked.years,
        restring=_cents(asked.restring),
        saved=asked.saved,
    )
    plan = best_plan(task)
    minutes = sum(horn.kept_back_for_minutes for horn in pool.instruments.values())
    return Planned(tuple(_in_words(kinds, pool, task, plan, today)), sum(served_by(task, ())[0]), minutes, plan.proven)


def _cents(amount: Decimal) -> int:
    return int(amount * 100)


def _money(cents: int) -> Decimal:
    return Decimal(cents) / 100


def _needs(pupils: Sequence[PupilRow]) -> _Kinds:
    """Pupils who can have the same horns are one need."""
    alike: defaultdict[tuple[str, str, bool], list[PupilRow]] = defaultdict(list)
    for pupil in pupils:
        alike[pupil.needs_kind, pupil.stand, pupil.needs_compact].append(pupil)
    kinds = _Kinds()
    for key in sorted(alike):
        first = alike[key][0]
        kinds.needs.append(first)
        kinds.pupils.append(len(alike[key]))
        kinds.classes.append({pupil.group for pupil in alike[key]})
        kinds.offered.append(
            HornRow(
                key=-1 - len(kinds.offered),
                number="",
                kind=first.needs_kind or "single",
                stand=first.stand or "F",
                compact=first.needs_compact,
            )
        )
    sold = {(horn.kind, horn.stand, horn.compact): horn for horn in kinds.offered}
    kinds.offered = list(sold.values())
    return kinds


def _needs_by_year(kinds: _Kinds, asked: BuyingAsked) -> tuple[tuple[int, ...], ...]:
    """Whoever comes needs what most do now, and whoever leaves did."""
    most = max(range(len(kinds.pupils)), key=lambda at: kinds.pupils[at])
    return tuple(
        tuple(max(0, number + asked.more * year * (at == most)) for at, number in enumerate(kinds.pupils))
        for year in range(asked.years)
    )


def _serves(needs: Sequence[PupilRow], horns: Sequence[HornRow], weights: Weights) -> list[frozenset[int]]:
    if not horns:
        return []
    allowed = points(needs, horns, weights).allowed
    return [frozenset(at for at in range(len(needs)) if allowed[at, column]) for column in range(len(horns))]


def _sort_horns(kinds: _Kinds, pool: Pool, asked: BuyingAsked, today: date, weights: Weights) -> None:
    """Equal horns together. What only minutes keep back counts as seen to."""
    broken = {remedy.horn.key for remedy in pool.could_be if remedy.kind == "mend"}
    rows = sorted([*pool.horns, *(remedy.horn for remedy in pool.could_be)], key=lambda row: row.place)
    serves = _serves(kinds.needs, rows, weights)
    turned: list[list[tuple[str, frozenset[int]]]] = [[] for _ in rows]
    for stand in sorted({stand for row in rows for stand in row.other_stands}):
        places = [at for at, row in enumerate(rows) if stand in row.other_stands]
        others = _serves(kinds.needs, [replace(rows[at], stand=stand) for at in places], weights)
        for at, other in zip(places, others, strict=True):
            if not other <= serves[at]:
                turned[at].append((stand, other))
    alike: defaultdict[tuple[int, str, frozenset[int], tuple[tuple[str, frozenset[int]], ...], int | None], list[int]]
    alike = defaultdict(list)
    for at, row in enumerate(rows):
        lasts = 0 if row.key in broken else years_left(pool.instruments[row.key].acquired_on, today, asked)
        wants = lasts < asked.years
        alone = row.key if wants and turned[at] else None
        alike[lasts, bought_in_words(row), serves[at], tuple(turned[at]), alone].append(at)
    for (lasts, *_), places in alike.items():
        first = places[0]
        mend = _cents(asked.mend) if lasts < asked.years else None
        kinds.stock.append(AlikeHorns(len(places), serves[first], lasts, mend, tuple(turned[first])))
        kinds.horns.append([rows[at] for at in places])


def years_left(acquired: date | None, today: date, asked: BuyingAsked) -> int:
    """In how many of the years a horn that plays now is good as it is: this one in any case, and all where nobody knows
    its age."""
    if acquired is None:
        return asked.years
    return min(asked.years, max(1, acquired.year + asked.lasts - today.year))


def _in_words(kinds: _Kinds, pool: Pool, task: YearsTask, plan: YearsPlan, today: date) -> list[PlannedYear]:
    told = []
    used: Counter[tuple[str, int]] = Counter()
    for year, served in enumerate(plan.served):
        lines, spent = [], 0
        for deed in plan.deeds:
            if deed.year == year:
                lines.append(_line(kinds, pool, task, plan, deed, used))
                spent += deed.cost
        missing: Counter[str] = Counter()
        for at, (wanted, had) in enumerate(zip(task.needs[year], served, strict=True)):
            if wanted > had:
                missing[_classes(kinds, [at])] += wanted - had
        told.append(
            PlannedYear(
                today.year + year,
                tuple(lines),
                _money(spent),
                sum(served),
                sum(task.needs[year]),
                tuple(sorted(missing.items())),
            )
        )
    return told


def _classes(kinds: _Kinds, needs: Sequence[int]) -> str:
    return ", ".join(sorted({group for at in needs for group in kinds.classes[at]}, key=in_reading_order))


def _line(
    kinds: _Kinds, pool: Pool, task: YearsTask, plan: YearsPlan, deed: YearsDeed, used: Counter[tuple[str, int]]
) -> PlannedLine:
    horns: tuple[Horn, ...] = ()
    if deed.kind == BUY:
        offer = task.offers[deed.of]
        what, serves = bought_in_words(kinds.offered[deed.of]), offer.serves
    else:
        stock, first = task.stock[deed.of], used[deed.kind, deed.of]
        used[deed.kind, deed.of] += deed.number
        rows = kinds.horns[deed.of][first : first + deed.number]
        horns = tuple(pool.instruments[row.key] for row in rows)
        what = bought_in_words(rows[0]) if rows[0].kind else _s("horn")
        serves = dict(stock.restrung).get(deed.stand, frozenset()) if deed.stand else stock.serves
    said = DONE[deed.kind][deed.number > 1] % {"number": deed.number, "horn": what}
    if deed.kind != BUY and deed.stand:
        said = _s("%(said)s, so that it stands in %(stand)s") % {"said": said, "stand": stand_in_words(deed.stand)}
    why = _why(task, plan, deed)
    if for_whom := _classes(kinds, sorted(serves)):
        why = _s("%(why)s For %(classes)s.") % {"why": why, "classes": for_whom}
    if deed.kind != BUY and (new := _new(task, serves)) is not None and new > deed.cost // deed.number:
        why = _s("%(why)s A new one would cost %(sum)s.") % {"why": why, "sum": money(_money(new))}
    return PlannedLine(said, horns, _money(deed.cost), why)


def _new(task: YearsTask, serves: frozenset[int]) -> int | None:
    """What the cheapest horn costs that could be bought for one of these needs."""
    return min((offer.price for offer in task.offers if offer.serves & serves), default=None)


def _why(task: YearsTask, plan: YearsPlan, deed: YearsDeed) -> str:
    """What would be lost if this alone were left undone."""
    without = served_by(task, [one for one in plan.deeds if one != deed])
    lost = [sum(had) - sum(has) for had, has in zip(plan.served, without, strict=True)]
    now, later = lost[deed.year], len(lost) - deed.year - 1
    alone = deed.number == 1
    if not now:
        if alone:
            return _s("Nobody needs it this year, but later years have no money left for it.")
        return _s("Nobody needs them this year, but later years have no money left for them.")
    if alone:
        said = _s_many(
            "Without it %(count)d pupil fewer would have a horn this year",
            "Without it %(count)d pupils fewer would have a horn this year",
            now,
        ) % {"count": now}
    else:
        said = _s_many(
            "Without them %(count)d pupil fewer would have a horn this year",
            "Without them %(count)d pupils fewer would have a horn this year",
            now,
        ) % {"count": now}
    if later and all(one == now for one in lost[deed.year :]):
        return _s("%(said)s and each year after.") % {"said": said}
    return (
        _s("%(said)s, %(lost)s in all the years together.") % {"said": said, "lost": sum(lost)} if later else f"{said}."
    )
