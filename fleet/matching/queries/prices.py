"""What a plan of buying begins with: what the school paid for horns and repairs, and guesses where it paid nothing yet.

Whatever no figure of the school gives is from memory, and said to be an assumption.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from statistics import median_low

from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.matching.queries.candidates import is_matched
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import sort_of
from fleet.workshop.models import RepairJob

GUESSED = _s_lazy("An assumption you can change.")
SORTS = ("single", "double", "compact")
# In the school's own money, whichever it is: only to begin with.
ASSUMED = {"single": 1500, "double": 3000, "compact": 1800, "mend": 250, "restring": 20}
YEARS, LASTS = 3, 30


@dataclass(frozen=True, slots=True)
class Figure:
    """An amount, and in a sentence where it comes from."""

    amount: Decimal
    source: str


def priced_as(kind: str, compact: bool) -> str:
    """The sort a horn is priced as: one of `SORTS`."""
    return "double" if kind == "double" else "compact" if compact else "single"


def figures_known(school: School) -> dict[str, Figure]:
    """What a horn of each sort, mending and restringing one cost, by `SORTS`, mend and restring. Three queries."""
    paid: defaultdict[str, list[Decimal]] = defaultdict(list)
    bought = Horn.objects.at(school).ever_had().identified().filter(price__gt=0)
    for horn in bought.only("build", "wrap", "price"):
        sort = sort_of(horn.build, horn.wrap)
        if horn.price and sort is not None and is_matched(horn):
            paid[priced_as(sort.kind, sort.compact)].append(horn.price)
    # Of the repairs of all years the middle one is asked for, along an index.
    mended = RepairJob.objects.at(school).filter(closed_at__isnull=False, cost__gt=0).order_by("cost")
    counts = {name: len(amounts) for name, amounts in paid.items()} | {"mend": mended.count()}
    middle = {name: median_low(amounts) for name, amounts in paid.items()}
    if counts["mend"]:
        middle["mend"] = mended[(counts["mend"] - 1) // 2].cost or Decimal(0)
    known = {
        name: Figure(middle[name], _source(name, counts[name])) if name in middle else Figure(Decimal(amount), GUESSED)
        for name, amount in ASSUMED.items()
    }
    if school.bench_rate:
        known["restring"] = Figure((school.bench_rate / 2).quantize(Decimal("0.01")), _s("Half an hour at the bench."))
    return known


def _source(name: str, number: int) -> str:
    if name == "mend":
        return (
            _s("What the repair that ended cost.")
            if number == 1
            else _s("The middle one of %(number)s repairs that ended.") % {"number": number}
        )
    return (
        _s("What the school paid for one.")
        if number == 1
        else _s("The middle one of %(number)s that the school paid for.") % {"number": number}
    )
