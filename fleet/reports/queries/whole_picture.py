"""The whole picture as sections: a heading, a sentence, a plot and the table that says the same in figures."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.dateformat import format as dated

from fleet.matching.queries.planning import Planned
from fleet.people.models import School
from fleet.reports.queries.figures import YEARS, Cost, Figures
from fleet.reports.queries.plots import bars, stacks
from identify.core.drawing.picture import Picture

GRADES = ("plays well", "small fault", "repair first", "not to be played")


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
        by_fault(figures),
        by_age(figures),
        buying(figures),
    ]


def by_kind(figures: Figures) -> Section:
    rows = [
        [kind.build, kind.stand or "–", *map(str, (kind.horns, kind.cupboard, kind.out, kind.repair, kind.not_found))]
        for kind in figures.by_kind
    ]
    sums = [sum(int(row[column]) for row in rows) for column in range(2, 7)]
    shown = [(kind.words, kind.horns) for kind in figures.by_kind]
    headings = ["in its place", "out on loan", "in repair", "not found"]
    return Section(
        "fleet",
        "What there is",
        f"{figures.horns} horns are kept, {figures.out} of them out on loan; {figures.ready} may be lent now.",
        bars("Horns by build and stand", [(label, n, str(n)) for label, n in shown]) if rows else None,
        [("Build", False), ("Stands in", False), ("Horns", True), *[(heading, True) for heading in headings]],
        [*rows, ["All", "", *map(str, sums)]] if rows else [],
        summed=True,
    )


def condition(figures: Figures) -> Section:
    told = [(dated(one.on, "j M Y"), (*one.grades, one.unchecked)) for one in figures.condition]
    last = dated(figures.condition[-1].on, "j F Y")
    # In the plot those never checked come first, empty: what nobody looked at is neither good nor bad.
    drawn = [(label, (values[4], *values[:4])) for label, values in told]
    return Section(
        "condition",
        "Condition over the years",
        f"The newest check of each horn kept, at the end of the {YEARS - 1} years before and on {last}.",
        stacks("Horns by playing grade", ("never checked", *GRADES), drawn),
        [("On", False), *[(grade, True) for grade in GRADES], ("never checked", True), ("all", True)],
        [[_one_line(label), *map(str, values), str(sum(values))] for label, values in told]
        if any(one.horns for one in figures.condition)
        else [],
    )


def _one_line(words: str) -> str:
    return words.replace(" ", "\u00a0")


def loans(figures: Figures) -> Section:
    told = [(dated(one.first, "M Y"), one) for one in figures.months]
    names = ("issued", "returned", "swapped", "lost")
    rows = [[_one_line(label), *(str(getattr(one, name)) for name in names), str(one.out)] for label, one in told]
    sums = {name: sum(getattr(one, name) for one in figures.months) for name in names}
    said = [f"{sums[name]} {name}" for name in names if sums[name] or name in names[:2]]
    lent = any(sums.values()) or any(one.out for one in figures.months)
    return Section(
        "loans",
        "Loans through the year",
        f"{', '.join(said[:-1])} and {said[-1]} since {dated(figures.since, 'j F Y')}.",
        bars("Horns out at the end of each month", [(label, one.out, str(one.out)) for label, one in told]),
        [("Month", False), *((name, True) for name in names), ("out at its end", True)],
        [*rows, ["All", *map(str, sums.values()), ""]] if lent else [],
        summed=True,
    )


def idle(figures: Figures) -> Section:
    rows = [
        [
            one.horn.number,
            one.horn.kind or "not identified",
            dated(one.since, "j M Y") if one.lent_before else f"never lent; here since {dated(one.since, 'j M Y')}",
            str(one.days),
        ]
        for one in figures.idle
    ]
    return Section(
        "idle",
        "Idle longest",
        "Horns in their places that nobody has had for longest." if rows else "No horn is in its place.",
        bars("Days idle", [(one.horn.number, one.days, str(one.days)) for one in figures.idle]) if rows else None,
        [("Number", False), ("What it is", False), ("Last back", False), ("days", True)],
        rows,
    )


def by_fault(figures: Figures) -> Section:
    return _cost(
        figures,
        "fault",
        "Repair cost by fault",
        "A job for several faults is split evenly between them.",
        figures.by_fault,
    )


def by_age(figures: Figures) -> Section:
    left_out = figures.jobs_without_cost
    without = f" {left_out} ended job{'' if left_out == 1 else 's'} without a cost left out." if left_out else ""
    said = f"By the horn’s age when the job ended, counted from the day it was acquired.{without}"
    return _cost(figures, "age", "Repair cost by age", said, figures.by_age)


def _cost(figures: Figures, key: str, heading: str, sentence: str, costs: list[Cost]) -> Section:
    currency = figures.school.currency
    total = sum((cost.amount for cost in costs), Decimal(0))
    rows = [[cost.label, f"{cost.amount:,.2f}", str(cost.jobs)] for cost in costs]
    title = f"{heading}, {currency}"
    if not rows:
        sentence = f"No repair with a cost ended since {dated(figures.since, 'j F Y')}."
    return Section(
        key,
        heading,
        sentence,
        bars(title, [(one.label, float(one.amount), f"{one.amount:,.2f}") for one in costs]) if rows else None,
        [(key.capitalize(), False), (currency, True), ("jobs", True)],
        [*rows, ["All", f"{total:,.2f}", ""]] if rows else [],
        summed=True,
    )


def buying(figures: Figures) -> Section:
    told = figures.to_buy
    lacks = told.lacks if told else []
    rows = [[one.what, ", ".join(one.classes) or "–", str(one.horns)] for one in lacks]
    said = "The table has what the classes still lack once every horn is looked at, mended, restrung and shared out."
    if not all(one.classes for one in lacks):
        said += " With so many pupils and horns it stays open which class each is for."
    none = "The classes in the register lack no horn that would have to be bought."
    if told is None:
        none = "Matching goes through every pupil of every class and every horn for this: it takes some seconds."
    total = sum(one.horns for one in lacks)
    return Section(
        "buy",
        "What to buy",
        f"{told.first if told else ''} {said if rows else none}".strip(),
        None,
        [("What", False), ("For", False), ("horns", True)],
        [*rows, ["All", "", str(total)]] if rows else [],
        summed=True,
    )


def proposed(school: School, plan: Planned) -> Section:
    """What is proposed to buy, mend and restring, year by year."""
    rows = [
        [
            str(year.year),
            f"{line.what}: {', '.join(map(str, line.horns))}" if line.horns else line.what,
            line.why,
            f"{line.cost:,.2f}",
        ]
        for year in plan.years
        for line in year.lines
    ]
    have = "; ".join(f"in {year.year} {year.served} of {year.pupils} pupils have a horn" for year in plan.years)
    total = f"{plan.spent:,.2f}"
    return Section(
        "proposed",
        "Proposed for the years to come",
        f"{total} {school.currency} in all. With it, {have}; with nothing done {plan.before} would this year.",
        None,
        [("Year", True), ("What", False), ("Why", False), (school.currency, True)],
        [*rows, ["All", "", "", total]] if rows else [],
        summed=True,
    )
