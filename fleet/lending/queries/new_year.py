"""A new school year: what is proposed for each class, and all that comes of what was chosen, before it is done."""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.db.models import Count, Prefetch
from django.utils.translation import gettext as _s

from fleet.ground.wording import day, folded
from fleet.lending.models import Loan
from fleet.people.models import Pupil, School
from fleet.people.models.families import class_called
from fleet.people.queries.school_days import SchoolDays
from fleet.register.models import Horn

# A number in the name of a class is its year from the first to this one; any other is part of the name.
LAST_YEAR = 13
GO_ON, LEAVE = "go-on", "leave"
RENEW, RECALL, AS_IS = "renew", "recall", "as-is"


@dataclass
class ClassNow:
    """The pupils of one year in one class: how many they are and how many horns they have. `pupils`, where they were
    asked for, have in `out` the loans that run."""

    year: str
    group: str
    pupils: list[Pupil] = field(default_factory=list)
    many: int = 0
    lent: int = 0
    # Which year of school it is, as its year or else its name says.
    number: int | None = field(init=False)

    def __post_init__(self) -> None:
        found = re.search(r"[0-9]+", self.year if self.year.isdecimal() else self.group)
        number = int(found.group()[:4]) if found else 0
        self.number = number if 1 <= number <= LAST_YEAR else None

    @property
    def key(self) -> str:
        return f"{self.year}|{self.group}"

    @property
    def words(self) -> str:
        return class_called(self.year, self.group) or _s("in no class")

    @property
    def next_year(self) -> str:
        return str(int(self.year) + 1) if self.year.isdecimal() and self.number else self.year

    @property
    def next_group(self) -> str:
        """`6a` for `5a`: the number of its year and one more, where its name holds it."""
        found = re.search(r"[0-9]+", self.group)
        if self.number is None or found is None or int(found.group()) != self.number:
            return self.group
        return f"{self.group[: found.start()]}{self.number + 1}{self.group[found.end() :]}"


def classes_now(school: School, *, counted: int) -> list[ClassNow]:
    """Every class of the school by year and name, those in none last, without its pupils: the first `counted` say how
    many they are and how many horns they have. Three queries."""
    here = Pupil.objects.at(school).filter(left_on=None).order_by()
    found = _in_order(ClassNow(year, group) for year, group in here.values_list("year", "group").distinct())
    groups = {one.group for one in found[:counted]}
    pupils = here.filter(group__in=groups).values_list("year", "group").annotate(Count("pk"))
    lent = Loan.objects.open().filter(pupil__in=here.filter(group__in=groups)).order_by()
    horns = lent.values_list("pupil__year", "pupil__group").annotate(Count("pk"))
    many, out = ({(year, group): number for year, group, number in rows} for rows in (pupils, horns))
    for one in found[:counted]:
        one.many, one.lent = many.get((one.year, one.group), 0), out.get((one.year, one.group), 0)
    return found


def classes_with_pupils(school: School) -> list[ClassNow]:
    """The same with the pupils of each class and their loans. Two queries."""
    out = Prefetch("loans", Loan.objects.open().select_related("horn").order_by("pk"), to_attr="out")
    found: dict[tuple[str, str], ClassNow] = {}
    for pupil in Pupil.objects.at(school).filter(left_on=None).in_order().prefetch_related(out):
        one = found.setdefault((pupil.year, pupil.group), ClassNow(pupil.year, pupil.group))
        one.pupils.append(pupil)
        one.many += 1
        one.lent += len(pupil.out)  # type: ignore[attr-defined]
    return _in_order(found.values())


def _in_order(found: Iterable[ClassNow]) -> list[ClassNow]:
    def place(one: ClassNow) -> tuple[bool, int, bool, str]:
        number = one.number
        return number is None, number or 0, not (one.year or one.group), folded(f"{one.year}, {one.group}")

    return sorted(found, key=place)


def last_class(classes: Sequence[ClassNow]) -> int | None:
    """The year that is proposed to leave: the highest one, where there are several."""
    numbers = {one.number for one in classes if one.number is not None}
    return max(numbers) if len(numbers) > 1 else None


@dataclass(frozen=True)
class ClassWish:
    """What becomes of a class: whether its pupils leave, else its name then, and what becomes of its loans."""

    leaves: bool
    group: str
    loans: str


@dataclass(frozen=True)
class YearWish:
    """What was chosen: the new year's end, the last day of those who leave, and a wish by the key of each class."""

    ends: date
    last_day: date
    classes: Mapping[str, ClassWish]


@dataclass
class ClassThen:
    """What comes of one class. `pupils` are those who are not left out; `as_is` are loans whose due day does not move,
    each with the reason."""

    now: ClassNow
    wish: ClassWish
    pupils: list[Pupil]
    renewed: list[Loan] = field(default_factory=list)
    recalled: list[Loan] = field(default_factory=list)
    as_is: list[tuple[Loan, str]] = field(default_factory=list)

    @property
    def becomes(self) -> str:
        return ClassNow(self.now.next_year, self.wish.group).words


@dataclass
class NewYear:
    """All that will be done. `until` is when renewed loans are due, `back_by` when those called back are; `proof` is
    another one as soon as anything of it is."""

    wish: YearWish
    until: date
    back_by: date
    classes: list[ClassThen]
    together: list[str]
    proof: str

    @property
    def renewed(self) -> list[Loan]:
        return [loan for one in self.classes for loan in one.renewed]

    @property
    def recalled(self) -> list[Loan]:
        return [loan for one in self.classes for loan in one.recalled]

    @property
    def changes(self) -> dict[Pupil, dict[str, Any]]:
        """The columns of each pupil that move."""
        return {
            pupil: {"left_on": self.wish.last_day}
            if one.wish.leaves
            else {"year": one.now.next_year, "group": one.wish.group}
            for one in self.classes
            for pupil in one.pupils
        }


def look_over(
    classes: Sequence[ClassNow], wish: YearWish, days: SchoolDays, *, left_out: Collection[int], today: date
) -> NewYear:
    """What comes of the wish as the classes are now. No query."""
    until = replace(days, year_ends=wish.ends).moved(wish.ends, after=today)
    back_by = days.last(wish.last_day) if wish.last_day >= today else days.next(today)
    # The last days before it may all be holidays.
    back_by = back_by if back_by >= today else wish.last_day
    then = []
    for now in classes:
        if (said := wish.classes.get(now.key)) is None:
            continue
        one = ClassThen(now, said, [pupil for pupil in now.pupils if pupil.pk not in left_out])
        for loan in (loan for pupil in one.pupils for loan in pupil.out):  # type: ignore[attr-defined]
            _sort(loan, one, until, back_by)
        then.append(one)
    return NewYear(wish, until, back_by, then, _together(classes, wish), _proof(classes, wish, until, back_by))


def _sort(loan: Loan, one: ClassThen, until: date, back_by: date) -> None:
    if one.wish.loans == RENEW and loan.horn.grade == Horn.Grade.MUST_NOT_BE_PLAYED:
        one.as_is.append((loan, _s("must not be played: it comes back, it is not renewed")))
    elif one.wish.loans == RENEW and until > loan.due_on:
        one.renewed.append(loan)
    elif one.wish.loans == RECALL and back_by < loan.due_on:
        one.recalled.append(loan)
    else:
        one.as_is.append((loan, _s("stays due on %(due_on)s") % {"due_on": day(loan.due_on)}))


def _together(classes: Sequence[ClassNow], wish: YearWish) -> list[str]:
    """Names that pupils of several classes of today would bear."""
    sources = defaultdict(set)
    for now in classes:
        said = wish.classes.get(now.key)
        if said is None or not said.leaves:
            sources[said.group if said else now.group].add(now.group)
    return sorted(name for name, groups in sources.items() if name and len(groups) > 1)


def _proof(classes: Sequence[ClassNow], wish: YearWish, *days: date) -> str:
    told = [
        [
            one.key,
            [[pupil.pk, [_as_it_is(loan) for loan in pupil.out]] for pupil in one.pupils],  # type: ignore[attr-defined]
        ]
        for one in classes
        if one.key in wish.classes
    ]
    return hashlib.sha256(json.dumps([told, repr(wish), repr(days)]).encode()).hexdigest()


def _as_it_is(loan: Loan) -> list[Any]:
    return [loan.pk, loan.due_on.isoformat(), loan.horn.grade]
