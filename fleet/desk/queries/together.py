"""Which horns of a school or of a class play together, read sort by sort: there are few of them, however many horns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from operator import itemgetter, or_
from typing import cast

from django.db.models import Q, Subquery

from fleet.ground.paging import HowMany, in_words
from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.charted import chart_of
from identify.core.fingering.charts import Chart
from identify.core.fingering.together import Member, changes, in_groups, pattern_in_words
from identify.core.fingering.words import title

# The columns a chart hangs on.
COLUMNS = ("build", "stands_in", "fourth_valve", "fifth_valve")
# Of one list; a class, which fits on the page whole, is chosen above it.
SHOWN = 30
# SQLite takes 2,000 columns of one row, two for each sort.
AT_ONCE = 400
Sort = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """A horn with what it is, and how it would have to stand to be in line with the largest list."""

    horn: Horn
    kind: str
    in_line: str


@dataclass(frozen=True, slots=True)
class PlaysAlike:
    """Horns that share their fingers: how many there are, of each sort counted to 1,031, and the first of them."""

    words: str
    many: int
    horns: list[Held]

    @property
    def told(self) -> str:
        return in_words(self.many)

    @property
    def more(self) -> str:
        return in_words(self.many - len(self.horns))


@dataclass(frozen=True, slots=True)
class Together:
    """The lists, the largest first; one horn and the stand that would bring it in line, and how many more there are
    of such, in words; the first of those whose chart nobody knows, and how many more there are."""

    lists: list[PlaysAlike]
    one_change: tuple[Horn, str] | None
    more_changes: str
    unknown: list[Horn]
    more_unknown: str


def play_together(horns: HornQuerySet) -> Together:
    """Two queries for the sorts, and one for each list that is shown."""
    charts: dict[Sort, Chart] = {}
    members, unknown, in_all = [], list[Sort](), 0
    for sort, many in _counted(horns):
        chart = chart_of(Horn(**dict(zip(COLUMNS, sort, strict=True))))
        if chart is None:
            unknown.append(sort)
            in_all += many
        else:
            charts[sort] = chart
            members.append(Member(sort, chart.build, chart.stand, many))
    grouped, ways = in_groups(members), changes(members)
    in_line = {change.member.name: change.to.words for change in ways}
    lists = [
        PlaysAlike(
            pattern_in_words(one[0].build, one[0].stand),
            sum(each.many for each in one),
            [
                Held(horn, title(charts[sort_of(horn)]), in_line.get(sort_of(horn), ""))
                for horn in _first(horns, [_its_sort(each) for each in one], SHOWN)
            ],
        )
        for one in grouped
    ]
    no_chart = _first(horns, unknown, SHOWN) if unknown else []
    changed = _first(horns, [_its_sort(ways[0].member)], 1) if ways else []
    return Together(
        lists,
        (changed[0], ways[0].to.words) if changed else None,
        in_words(max(0, sum(change.member.many for change in ways) - 1)),
        no_chart,
        in_words(in_all - len(no_chart)),
    )


def _counted(horns: HornQuerySet) -> list[tuple[Sort, int]]:
    """Each sort with how many there are, counted to one more than 1,000 and what is shown, in the order of their first
    numbers. Two queries, of hundreds of sorts more: SQLite goes from sort to sort along an index."""
    sorts = list(horns.order_by().values_list(*COLUMNS).distinct())
    told = list[tuple[str, Sort, int]]()
    for begin in range(0, len(sorts), AT_ONCE):
        some, asked = sorts[begin : begin + AT_ONCE], dict[str, Subquery]()
        for place, sort in enumerate(some):
            alike = horns.filter(_of(sort)).order_by()
            asked[f"many_{place}"] = HowMany(alike, beside=SHOWN)
            # In the order of the index, which PostgreSQL sees only where all of it is named.
            asked[f"first_{place}"] = Subquery(alike.order_by("withdrawn_on", "number").values("number")[:1])
        for row in horns.order_by().annotate(**asked).values_list(*asked)[:1]:
            told += zip(row[1::2], some, row[::2], strict=True)
    # What has gone since the first query has no number.
    return [(sort, many) for _, sort, many in sorted((one for one in told if one[2]), key=itemgetter(0))]


def sort_of(horn: Horn) -> Sort:
    return tuple(getattr(horn, name) for name in COLUMNS)


def _its_sort(member: Member) -> Sort:
    return cast("Sort", member.name)


def _first(horns: HornQuerySet, sorts: Sequence[Sort], most: int) -> list[Horn]:
    return list(horns.filter(reduce(or_, map(_of, sorts))).by_number()[:most])


def _of(sort: Sort) -> Q:
    return Q(**dict(zip(COLUMNS, sort, strict=True)))
