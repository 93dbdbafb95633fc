"""What repairs cost, by fault and by the age of the horn. No names of pupils."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, Decimal

from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.workshop.models import Finding, RepairJob
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


def cost_by_fault(jobs: Sequence[RepairJob]) -> list[Cost]:
    """What jobs cost by the fault they mended, the dearest first. One query.

    A job for several faults is split evenly between them, since nobody writes down which took what; the cents
    that do not divide go to the first, so that the whole stays the whole.
    """
    faults: defaultdict[int, list[str]] = defaultdict(list)
    found = Finding.objects.filter(job__in=[job.pk for job in jobs]).order_by("pk")
    for job, fault in found.values_list("job", "fault"):
        if fault not in faults[job]:
            faults[job].append(fault)
    amounts: dict[str, Decimal] = defaultdict(Decimal)
    counted: Counter[str] = Counter()
    for one in jobs:
        headings = [_s(catalogue().fault(fault).words) for fault in faults.get(one.pk, [])] or [str(NO_FAULT)]
        for heading, amount in zip(headings, shares(one.cost or Decimal(0), len(headings)), strict=True):
            amounts[heading] += amount
            counted[heading] += 1
    return _dearest(Cost(label, amount, counted[label]) for label, amount in amounts.items())


def shares(whole: Decimal, parts: int) -> list[Decimal]:
    """An amount in equal parts to the cent that add up to it; the first takes what does not divide."""
    part = (whole / parts).quantize(CENT, ROUND_DOWN)
    return [whole - part * (parts - 1), *[part] * (parts - 1)]


def cost_by_age(jobs: Sequence[RepairJob]) -> list[Cost]:
    """What jobs cost by the horn's age when they were done, counted from the day it was acquired. No query."""
    amounts: dict[str, Decimal] = defaultdict(Decimal)
    counted: Counter[str] = Counter()
    for one in jobs:
        assert one.closed_at is not None, "only jobs that ended have their cost counted"
        band = age_band(one.horn.acquired_on, timezone.localdate(one.closed_at))
        amounts[band] += one.cost or Decimal(0)
        counted[band] += 1
    order = [str(label) for label in (*(label for _, label in AGES), UNKNOWN_AGE)]
    return [Cost(label, amounts[label], counted[label]) for label in order if counted[label]]


def age_band(acquired: date | None, on: date) -> str:
    if acquired is None or acquired > on:
        return str(UNKNOWN_AGE)
    age = on.year - acquired.year - ((on.month, on.day) < (acquired.month, acquired.day))
    return str([label for least, label in AGES if age >= least][-1])


def _dearest(costs: Iterable[Cost]) -> list[Cost]:
    return sorted(costs, key=lambda cost: (-cost.amount, cost.label))
