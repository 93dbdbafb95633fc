"""The whole picture as sections: a heading, a sentence, a plot and the table that says the same in figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.dateformat import format as dated
from django.utils.formats import date_format
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day, in_a_row
from fleet.matching.queries.planning import Planned
from fleet.people.models import School
from fleet.reports.queries.costs import Cost
from fleet.reports.queries.figures import YEARS, Figures
from fleet.reports.queries.plots import bars, stacks
from identify.core.drawing.picture import Picture

GRADES = (_s_lazy("plays well"), _s_lazy("small fault"), _s_lazy("repair first"), _s_lazy("not to be played"))
# By whether any was swapped, and whether any was lost.
WENT = {
    (False, False): _s_lazy("%(issued)d issued and %(returned)d returned since %(day)s."),
    (True, False): _s_lazy("%(issued)d issued, %(returned)d returned and %(swapped)d swapped since %(day)s."),
    (False, True): _s_lazy("%(issued)d issued, %(returned)d returned and %(lost)d lost since %(day)s."),
    (True, True): _s_lazy(
        "%(issued)d issued, %(returned)d returned, %(swapped)d swapped and %(lost)d lost since %(day)s."
    ),
}


@dataclass(frozen=True, slots=True)
class Section:
    """`columns` are (heading, whether it holds figures); the last of `rows` is the sum where `summed`."""

    key: str
    heading: str
    sentence: str
    plot: Picture | None
    columns: list[tuple[str, bool]]
    rows: list[list[str]]
    summed: bool = False


def sections(figures: Figures) -> list[Section]:
    return [
        by_kind(figures),
        condition(figures),
        loans(figures),
        idle(figures),
        *([rest(figures)] if figures.brief else [by_fault(figures), by_age(figures)]),
        buying(figures),
    ]


def by_kind(figures: Figures) -> Section:
    rows = [
        [kind.build, kind.stand or "–", *map(str, (kind.horns, kind.cupboard, kind.out, kind.repair, kind.not_found))]
        for kind in figures.by_kind
    ]
    sums = [sum(int(row[column]) for row in rows) for column in range(2, 7)]
    shown = [(kind.words, kind.horns) for kind in figures.by_kind]
    headings = [_s("in its place"), _s("out on loan"), _s("in repair"), _s("not found")]
    said = _s_many(
        "%(count)d horn is kept, %(out)d of them out on loan; %(ready)d may be lent now.",
        "%(count)d horns are kept, %(out)d of them out on loan; %(ready)d may be lent now.",
        figures.horns,
    )
    return Section(
        "fleet",
        _s("What there is"),
        in_a_row(said % {"count": figures.horns, "out": figures.out, "ready": figures.ready}, lent_in_repair(figures)),
        bars(_s("Horns by build and stand"), [(label, n, str(n)) for label, n in shown]) if rows else None,
        [
            (_s("Build"), False),
            (_s("Stands in"), False),
            (_s("Horns"), True),
            *[(heading, True) for heading in headings],
        ],
        [*rows, [_s("All"), "", *map(str, sums)]] if rows else [],
        summed=True,
    )


def lent_in_repair(figures: Figures) -> str:
    """Why more loans run than horns are out; "" where they are as many."""
    count = figures.lent_in_repair
    said = _s_many(
        "Besides, %(count)d horn is in repair while its loan goes on.",
        "Besides, %(count)d horns are in repair while their loans go on.",
        count,
    )
    return said % {"count": count} if count else ""


def condition(figures: Figures) -> Section:
    told = [(_short(one.on), (*one.grades, one.unchecked)) for one in figures.condition]
    if figures.brief:
        said = _s("The newest check of each horn kept, on %(day)s.")
    else:
        said = _s("The newest check of each horn kept, at the end of the %(years)d years before and on %(day)s.")
    grades, never = [str(grade) for grade in GRADES], _s("never checked")
    # In the plot those never checked come first, empty: what nobody looked at is neither good nor bad.
    drawn = [(label, (values[4], *values[:4])) for label, values in told]
    return Section(
        "condition",
        _s("Condition over the years"),
        said % {"years": YEARS - 1, "day": day(figures.condition[-1].on)},
        stacks(_s("Horns by playing grade"), (never, *grades), drawn),
        [(_s("On"), False), *[(grade, True) for grade in grades], (never, True), (_s("all"), True)],
        [[_one_line(label), *map(str, values), str(sum(values))] for label, values in told]
        if any(one.horns for one in figures.condition)
        else [],
    )


def _short(when: date) -> str:
    return date_format(when, "SHORT_DATE_FORMAT")


def _one_line(words: str) -> str:
    return words.replace(" ", "\u00a0")


def loans(figures: Figures) -> Section:
    told = [(dated(one.first, "M Y"), one) for one in figures.months]
    names = ("issued", "returned", "swapped", "lost")
    headings = (_s("issued"), _s("returned"), _s("swapped"), _s("lost"))
    rows = [[_one_line(label), *(str(getattr(one, name)) for name in names), str(one.out)] for label, one in told]
    sums = {name: sum(getattr(one, name) for one in figures.months) for name in names}
    said = WENT[sums["swapped"] > 0, sums["lost"] > 0]
    lent = any(sums.values()) or any(one.out for one in figures.months)
    return Section(
        "loans",
        _s("Loans through the year"),
        said % {**sums, "day": day(figures.since)},
        bars(_s("Horns out at the end of each month"), [(label, one.out, str(one.out)) for label, one in told]),
        [(_s("Month"), False), *((heading, True) for heading in headings), (_s("out at its end"), True)],
        [*rows, [_s("All"), *map(str, sums.values()), ""]] if lent else [],
        summed=True,
    )


def idle(figures: Figures) -> Section:
    rows = [
        [
            one.horn.number,
            one.horn.kind or _s("not identified"),
            _short(one.since) if one.lent_before else _s("never lent; here since %(day)s") % {"day": _short(one.since)},
            str(one.days),
        ]
        for one in figures.idle
    ]
    return Section(
        "idle",
        _s("Idle longest"),
        _s("Horns in their places that nobody has had for longest.") if rows else _s("No horn is in its place."),
        bars(_s("Days idle"), [(one.horn.number, one.days, str(one.days)) for one in figures.idle]) if rows else None,
        [(_s("Number"), False), (_s("What it is"), False), (_s("Last back"), False), (_s("days"), True)],
        rows,
    )


def rest(figures: Figures) -> Section:
    """What a brief picture leaves out."""
    said = _s(
        "How the horns played in the %(years)d years before, and what repairs cost and took, is told by every check "
        "and job, which takes some seconds with so many horns: it is worked out when the whole picture’s page is "
        "asked for it."
    )
    return Section("rest", _s("The years before, and repairs"), said % {"years": YEARS - 1}, None, [], [])


def by_fault(figures: Figures) -> Section:
    return _cost(
        figures,
        "fault",
        _s("Fault"),
        _s("Repair cost by fault"),
        _s("A job for several faults is split evenly between them."),
        figures.by_fault,
    )


def by_age(figures: Figures) -> Section:
    count = figures.jobs_without_cost
    left_out = _s_many(
        "%(count)d ended job without a cost left out.", "%(count)d ended jobs without a cost left out.", count
    ) % {"count": count}
    said = in_a_row(
        _s("By the horn’s age when the job ended, counted from the day it was acquired."), left_out if count else ""
    )
    return _cost(figures, "age", _s("Age"), _s("Repair cost by age"), said, figures.by_age)


def _cost(figures: Figures, key: str, under: str, heading: str, sentence: str, costs: list[Cost]) -> Section:
    currency = figures.school.currency
    total = sum((cost.amount for cost in costs), Decimal(0))
    rows = [[cost.label, money(cost.amount), str(cost.jobs)] for cost in costs]
    title = f"{heading}, {currency}"
    if not rows:
        sentence = _s("No repair with a cost ended since %(day)s.") % {"day": day(figures.since)}
    return Section(
        key,
        heading,
        sentence,
        bars(title, [(one.label, float(one.amount), money(one.amount)) for one in costs]) if rows else None,
        [(under, False), (currency, True), (_s("jobs"), True)],
        [*rows, [_s("All"), money(total), ""]] if rows else [],
        summed=True,
    )


def buying(figures: Figures) -> Section:
    told = figures.to_buy
    lacks = told.lacks if told else []
    rows = [[one.what, ", ".join(one.classes) or "–", str(one.horns)] for one in lacks]
    if told is None:
        said = _s(
            "Matching goes through every pupil of every class and every horn for this, which takes some seconds: it is "
            "worked out when the whole picture’s page is asked for it."
        )
    elif not lacks:
        said = _s("The classes in the register lack no horn that would have to be bought.")
    else:
        still = _s(
            "The table has what the classes still lack once every horn is looked at, mended, restrung and shared out."
        )
        open_ = _s("With so many pupils and horns it stays open which class each is for.")
        said = in_a_row(still, "" if all(one.classes for one in lacks) else open_)
    total = sum(one.horns for one in lacks)
    return Section(
        "buy",
        _s("What to buy"),
        in_a_row(str(told.first) if told else "", said),
        None,
        [(_s("What"), False), (_s("For"), False), (_s("horns"), True)],
        [*rows, [_s("All"), "", str(total)]] if rows else [],
        summed=True,
    )


def proposed(school: School, plan: Planned) -> Section:
    """What is proposed to buy, mend and restring, year by year."""
    rows = [
        [
            str(year.year),
            f"{line.what}: {', '.join(map(str, line.horns))}" if line.horns else line.what,
            line.why,
            money(line.cost),
        ]
        for year in plan.years
        for line in year.lines
    ]
    have = in_a_row(
        *(
            _s("In %(year)s %(served)d of %(pupils)d pupils have a horn.")
            % {"year": year.year, "served": year.served, "pupils": year.pupils}
            for year in plan.years
        )
    )
    return Section(
        "proposed",
        _s("Proposed for the years to come"),
        in_a_row(
            _s("%(amount)s in all.") % {"amount": money(plan.spent, school.currency)},
            have,
            _s("With nothing done %(count)d would this year.") % {"count": plan.before},
        ),
        None,
        [(_s("In the year"), True), (_s("What"), False), (_s("Why"), False), (school.currency, True)],
        [*rows, [_s("All"), "", "", money(plan.spent)]] if rows else [],
        summed=True,
    )
