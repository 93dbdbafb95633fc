"""What a governor asks of a year: what the horns are worth, what was lost, given up, charged and counted, and who had
horns. No names.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta
from decimal import Decimal

from django.db.models import Q
from django.utils.translation import gettext as _s

from fleet.counting.models import Count
from fleet.ground.badges import money
from fleet.ground.wording import in_reading_order
from fleet.lending.models import Charge, Loan
from fleet.register.models import Disposal, Horn, Standing
from fleet.reports.queries.figures import Figures, start_of
from fleet.reports.queries.whole_picture import Section

Row = tuple[str, int, Decimal | None]


def for_governors(figures: Figures) -> list[Section]:
    """The year at a glance, and its loans by class. Seven queries."""
    rows = [*_stock(figures), *_came_and_went(figures), *_charges(figures), *_counts(figures)]
    glance = Section(
        "glance",
        _s("The year at a glance"),
        _s(
            "What is kept and its worth are as of the day of printing, all else is of the twelve months. "
            "A horn without a value counts with the price paid."
        ),
        None,
        [(_s("What"), False), (_s("how many"), True), (figures.school.currency, True)],
        [[what, str(number), money(amount) or "–"] for what, number, amount in rows],
    )
    return [glance, _by_class(figures)]


def _stock(figures: Figures) -> list[Row]:
    worth = [horn.insured for horn in Horn.objects.at(figures.school).kept().only("value", "price")]
    paid = [amount for amount, is_price in worth if is_price]
    rows: list[Row] = [(_s("Horns kept, and what they are worth"), len(worth), _sum(amount for amount, _ in worth))]
    if paid:
        rows.append((_s("of them counted with the price paid"), len(paid), _sum(paid)))
    if without := sum(amount is None for amount, _ in worth):
        rows.append((_s("of them without value or price"), without, None))
    return rows


def _came_and_went(figures: Figures) -> list[Row]:
    days = (figures.since, figures.until)
    there = Horn.objects.at(figures.school).ever_had()
    new = list(there.filter(acquired_on__range=days).values_list("price", flat=True))
    # By the day that every page says; a horn that was missed twice is one horn.
    said = Standing.objects.filter(horn__in=there, on__range=days)
    missed = said.filter(kind=Standing.Kind.NOT_FOUND).select_related("horn")
    gone = {one.horn_id: one.horn for one in missed}.values()
    found = said.filter(kind=Standing.Kind.FOUND).order_by().values("horn").distinct().count()
    given_up = Disposal.objects.at(figures.school).filter(approved=True, on__range=days)
    sold = list(given_up.values_list("price", "value"))
    return [
        (_s("Acquired, and what was paid"), len(new), _sum(new)),
        (_s("Lost or not found, and what they were worth"), len(gone), _sum(horn.insured[0] for horn in gone)),
        (_s("Found again"), found, None),
        (_s("Given up for good, and what they brought"), len(sold), _sum(price for price, _ in sold)),
        (_s("what those were worth at the time"), len(sold), _sum(value for _, value in sold)),
        (_s("Repairs that ended with a cost"), figures.jobs_with_cost, figures.spent),
    ]


def _charges(figures: Figures) -> list[Row]:
    made = Charge.objects.at(figures.school).filter(**_within(figures, "made_at"))
    rows: list[Row] = []
    all_made = list(made.values_list("currency", "state", "amount"))
    for currency in sorted({figures.school.currency, *(one for one, _, _ in all_made)}):
        mine = [(state, amount) for one, state, amount in all_made if one == currency]
        own = currency == figures.school.currency
        charged = _s("Charges to families") if own else _s("Charges to families in %(currency)s")
        rows.append((charged % {"currency": currency}, len(mine), _sum(amount for _, amount in mine)))
        for state in Charge.State:
            if amounts := [amount for one, amount in mine if one == state]:
                told = _s("of them %(state)s") if own else _s("of them %(state)s in %(currency)s")
                rows.append((told % {"state": state.label, "currency": currency}, len(amounts), _sum(amounts)))
    return rows


def _counts(figures: Figures) -> list[Row]:
    ended = list(Count.objects.filter(school=figures.school, **_within(figures, "ended_at")).values_list("signed_at"))
    signed = sum(at is not None for (at,) in ended)
    return [(_s("Counts ended"), len(ended), None), (_s("of them signed by somebody who did not count"), signed, None)]


def _by_class(figures: Figures) -> Section:
    counts = Q(issued_on__gte=figures.since) | Q(returned_on=None) | Q(returned_on__gt=figures.until)
    loans = Loan.objects.at(figures.school).filter(counts, issued_on__lte=figures.until)
    issued: Counter[str] = Counter()
    out: Counter[str] = Counter()
    for group, begun, ended in loans.values_list("pupil__group", "issued_on", "returned_on"):
        issued[group] += begun >= figures.since
        out[group] += ended is None or ended > figures.until
    groups = sorted({group for group in issued if issued[group] or out[group]}, key=in_reading_order)
    rows = [[group or _s("in no class"), str(issued[group]), str(out[group])] for group in groups]
    return Section(
        "classes",
        _s("Loans by class"),
        _s("By the class of today.") if rows else _s("No horn was lent."),
        None,
        [(_s("Class"), False), (_s("issued"), True), (_s("out at the end"), True)],
        [*rows, [_s("All"), str(issued.total()), str(out.total())]] if rows else [],
        summed=True,
    )


def _within(figures: Figures, column: str) -> dict[str, object]:
    """That a moment lies in the year."""
    after = start_of(figures.until + timedelta(days=1))
    return {f"{column}__gte": start_of(figures.since), f"{column}__lt": after}


def _sum(amounts: Iterable[Decimal | None]) -> Decimal:
    return sum((amount for amount in amounts if amount is not None), Decimal(0))
