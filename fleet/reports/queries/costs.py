"""What repairs cost, by fault and by the age of the horn. No names of pupils."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_DOWN, Decimal
from typing import Any, NamedTuple

from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.workshop.models import Finding, RepairJobQuerySet
from fleet.workshop.models.faults import catalogue

# Ages in whole years: an age belongs to the last band that begins at or below it.
AGES = (
    (0, _s_lazy("under 5 years")),
    (5, _s_lazy("5 to 9 years")),
    (10, _s_lazy("10 to 19 years")),
    (20, _s_lazy("20 years and more")),
)
UNKNOWN_AGE = _s_lazy("age not known")
NO_FAULT = _s_lazy("no fault named")
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Cost:
    """What repairs cost under one heading; `jobs` counts a job once under each heading it falls under."""

    label: str
    amount: Decimal
    jobs: int


class Paid(NamedTuple):
    """What is asked of a job that ended with a cost."""

    pk: int
    cost: Decimal
    closed_at: datetime
    acquired_on: date | None


def paid(jobs: RepairJobQuerySet) -> list[Paid]:
    """Those of these jobs, all ended, whose cost is on record. One query."""
    found: Any = jobs.exclude(cost=None).order_by("pk")
    return [Paid(*row) for row in found.values_list("pk", "cost", "closed_at", "horn__acquired_on")]


def faults_of(jobs: RepairJobQuerySet) -> dict[int, list[str]]:
    """The faults of each of these jobs that has any, each once, in words, as they were found. One query."""
    found = Finding.objects.filter(job__in=jobs.order_by().values("pk")).order_by("pk").values_list("job", "fault")
    codes: defaultdict[int, dict[str, None]] = defaultdict(dict)
    for job, code in found:
        codes[job][code] = None
    words = {code: _s(catalogue().fault(code).words) for code in {code for those in codes.values() for code in those}}
    return {job: [words[code] for code in those] for job, those in codes.items()}


def cost_by_fault(jobs: Iterable[Paid], faults: Mapping[int, Sequence[str]]) -> list[Cost]:
    """What jobs cost by the fault they mended, the dearest first. No query.

    A job for several faults is split evenly between them, since nobody writes down which took what; the cents
    that do not divide go to the first, so that the whole stays the whole.
    """
    amounts: dict[str, Decimal] = defaultdict(Decimal)
    counted: Counter[str] = Counter()
    none = [str(NO_FAULT)]
    for one in jobs:
        headings = faults.get(one.pk, none)
        for heading, amount in zip(headings, shares(one.cost, len(headings)), strict=True):
            amounts[heading] += amount
            counted[heading] += 1
    return _dearest(Cost(label, amount, counted[label]) for label, amount in amounts.items())


def cents(amount: Decimal | None) -> Decimal:
    """A sum as it is kept: SQLite adds up fractions."""
    return (amount or Decimal(0)).quantize(CENT)


def shares(whole: Decimal, parts: int) -> list[Decimal]:
    """An amount in equal parts to the cent that add up to it; the first takes what does not divide."""
    if parts == 1:
        return [whole]
    part = (whole / parts).quantize(CENT, ROUND_DOWN)
    return [whole - part * (parts - 1), *[part] * (parts - 1)]


def cost_by_age(jobs: Iterable[Paid]) -> list[Cost]:
    """What jobs cost by the horn's age when they were done, counted from the day it was acquired. No query."""
    amounts: dict[int, Decimal] = defaultdict(Decimal)
    counted: Counter[int] = Counter()
    for one in jobs:
        band = _band(one.acquired_on, timezone.localdate(one.closed_at))
        amounts[band] += one.cost
        counted[band] += 1
    return [Cost(_label(band), amounts[band], counted[band]) for band in sorted(counted)]


def age_band(acquired: date | None, on: date) -> str:
    return _label(_band(acquired, on))


def _band(acquired: date | None, on: date) -> int:
    """Which of `AGES`; where it is not known, behind the last."""
    if acquired is None or acquired > on:
        return len(AGES)
    age = on.year - acquired.year - ((on.month, on.day) < (acquired.month, acquired.day))
    return sum(age >= least for least, _ in AGES) - 1


def _label(band: int) -> str:
    return str(AGES[band][1] if band < len(AGES) else UNKNOWN_AGE)


def _dearest(costs: Iterable[Cost]) -> list[Cost]:
    return sorted(costs, key=lambda cost: (-cost.amount, cost.label))
