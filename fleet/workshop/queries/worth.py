"""Mend or replace: what the open faults may cost beside what the horn is worth. A suggestion with its reasons."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import DecimalField, F, Sum
from django.db.models.functions import Cast
from django.utils.translation import gettext as _s

from fleet.people.models import School
from fleet.register.models import Horn
from fleet.workshop.models import Part, PartUsed, RepairJob

# From memory, and estimates: workshops speak of half the value as the point to think twice, sooner for an old horn,
# whose next fault is nearer.
THINK_TWICE, THINK_TWICE_OLD = Decimal("0.5"), Decimal("0.35")
OLD = 25


@dataclass(frozen=True, slots=True)
class Expected:
    """What the open faults may cost, and from what that is reckoned. `amount` is None where nothing tells."""

    amount: Decimal | None
    how: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """`word` is "mend", "ask" (think twice), "replace" or "unknown"; sums in the school's currency, age in years."""

    word: str
    why: str
    so_far: Decimal
    expected: Expected
    value: Decimal | None
    age: int | None


def suggest(*, so_far: Decimal, expected: Expected, value: Decimal | None, age: int | None) -> Suggestion:
    """The suggestion and its reason. `so_far` is what repairs have cost until now."""

    def answer(word: str, why: str) -> Suggestion:
        return Suggestion(word, why, so_far, expected, value, age)

    if not value:
        return answer("unknown", _s("The horn has no value in its particulars: give it one, and this can be reckoned."))
    if expected.amount is None:
        return answer("unknown", _s("Nothing tells what the faults will cost: ask for a quote."))
    share = int(100 * expected.amount / value)
    old = age is not None and age >= OLD
    if expected.amount >= value:
        return answer("replace", _s("Mending would cost %(share)s %% of what the horn is worth.") % {"share": share})
    if expected.amount > value * (THINK_TWICE_OLD if old else THINK_TWICE):
        said = _s("Mending would cost %(share)s %% of what the horn is worth: ask for a second quote.")
        if old:
            said = _s(
                "Mending would cost %(share)s %% of what the horn is worth, and it is %(age)s years old: ask for a "
                "second quote."
            )
        return answer("ask", said % {"share": share, "age": age})
    if so_far + expected.amount > value:
        return answer("ask", _s("With what it has cost so far, mending comes to more than the horn is worth."))
    return answer("mend", _s("Mending would cost %(share)s %% of what the horn is worth.") % {"share": share})


def expected_cost(
    job: RepairJob,
    school: School,
    *,
    minutes: int | None,
    parts: Iterable[tuple[Part, int]] = (),
    agreed: Decimal = Decimal(0),
) -> Expected:
    """The quote where there is one; else the minutes at the school's rate, the parts still wanted and what is `agreed`
    for work at a price. No query."""
    if job.quote is not None:
        return Expected(max(job.quote - (job.cost or Decimal(0)), Decimal(0)), _s("the quote, less what is paid"))
    pieces = sum((part.cost * count for part, count in parts), Decimal(0))
    if school.bench_rate is not None and minutes is not None:
        work = (school.bench_rate * minutes / 60).quantize(Decimal("0.01"))
        said = _s("%(minutes)s min at %(rate)s an hour, and parts")
        if agreed:
            said = _s("%(minutes)s min at %(rate)s an hour, work at its price, and parts")
        return Expected(work + pieces + agreed, said % {"minutes": minutes, "rate": school.bench_rate})
    if agreed and minutes is None:
        return Expected(agreed + pieces, _s("work at its price, and parts"))
    if pieces:
        return Expected(None, _s("only the parts are known"))
    return Expected(None, _s("no quote, and no hourly rate in Settings"))


def cost_so_far(horn: Horn) -> Decimal:
    """What the horn's repairs have cost, bills and parts. Two queries."""
    bills = RepairJob.objects.filter(horn=horn).aggregate(sum=Sum("cost"))["sum"] or Decimal(0)
    each = Cast(F("count") * F("cost_each"), DecimalField(max_digits=12, decimal_places=2))
    parts = PartUsed.objects.filter(job__horn=horn).aggregate(sum=Sum(each))["sum"] or Decimal(0)
    return bills + parts


def years_since(day: date | None, today: date) -> int | None:
    if day is None or day > today:
        return None
    return today.year - day.year - ((today.month, today.day) < (day.month, day.day))
