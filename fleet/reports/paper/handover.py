"""Horns that change hands among adults: a receipt to sign, and the schedule an insurer asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO
from itertools import chain

from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day, in_a_row
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.sheet.page import BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.ruled import heading
from fleet.reports.sheet.table import TICK, TableColumn, table

RECEIPT = (
    TableColumn("", 8),
    TableColumn(_s_lazy("Number"), 26),
    TableColumn(_s_lazy("What it is"), 58),
    TableColumn(_s_lazy("Serial number"), 30),
    TableColumn(_s_lazy("Where"), 42),
    TableColumn(_s_lazy("Plays"), 26),
)
SCHEDULE = (
    TableColumn(_s_lazy("Number"), 20),
    TableColumn(_s_lazy("What it is, goes with it"), 44),
    TableColumn(_s_lazy("Maker, model"), 28),
    TableColumn(_s_lazy("Serial number"), 22),
    TableColumn(_s_lazy("Acquired"), 18),
    TableColumn(_s_lazy("Plays"), 18),
    TableColumn(_s_lazy("Where"), 30),
    TableColumn(_s_lazy("Value"), 20, right=True),
)
SIGNATURES = 46.0
CONFIDENTIAL = _s_lazy("Confidential: for the head of department, the school’s office and the insurer.")


def receipt_drawn(horns: Sequence[Horn], *, names: tuple[str, ...], school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Handover receipt, %(day)s") % {"day": day(today)}, paper=paper)
    there = [horn for horn in horns if horn.not_found_on is None]
    these = _s_many(
        "%(count)d horn changes hands. Tick it if it is there with its case; strike it out if not.",
        "These %(count)d horns change hands. Tick each one that is there with its case; strike out what is not.",
        len(there),
    )
    gone = ", ".join(horn.number for horn in horns if horn.not_found_on is not None)
    left_out = _s("Left out, since not found: %(horns)s.") % {"horns": gone} if gone else ""
    said = in_a_row(these % {"count": len(there)}, left_out) if there else _s("There is no horn to hand over.")
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    if there:
        _to_hand_over(page, y, there, names)
    page.close()
    return out.getvalue()


def _to_hand_over(page: Sheet, y: float, horns: Sequence[Horn], names: tuple[str, ...]) -> None:
    rows = (
        (
            TICK,
            horn.number,
            horn.what_it_is,
            horn.serial_number,
            horn.whereabouts.without_names,
            horn.get_grade_display() or _s("not checked"),
        )
        for horn in horns
    )
    y = table(page, y + 2, RECEIPT, rows, keep=SIGNATURES)
    half = WIDTH / 2 - 5
    for x, label, name in ((0.0, _s("Handed over by"), names[0]), (WIDTH - half, _s("Taken over by"), names[1])):
        page.words(x, y + 10, label, size=10, bold=True)
        page.paragraph(x, y + 11.5, name, half, size=10, lines=2)
        if not name:
            page.rule(x, y + 17, half, weight=0.3)
            page.words(x, y + 20.5, _s("Name"), size=8, grey=True)
        page.rule(x, y + 32, half)
        page.words(x, y + 36, _s("Signature, date"), size=8, grey=True)


def schedule_drawn(
    horns: Sequence[Horn], *, along: Mapping[int, Sequence[str]], school: School, today: date, paper: str
) -> bytes:
    """What each horn is worth; those not found apart. `along` has what goes with a horn, by its key."""
    out = BytesIO()
    title = _s("Insurance schedule, %(day)s") % {"day": day(today)}
    page = Sheet(out, school=school.name, title=title, paper=paper, foot=str(CONFIDENTIAL))
    there = [horn for horn in horns if horn.not_found_on is None]
    gone = [horn for horn in horns if horn.not_found_on is not None]
    said = _summed(there, school)
    if gone:
        apart = _s("Not found, and not counted there: %(count)s; they stand apart.")
        said = in_a_row(said, apart % {"count": len(gone)})
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    if there:
        y = _worth(page, y + 2, there, along, school)
    if gone:
        y = heading(page, y + 2, _s("Not found"))
        y = page.paragraph(0, y, _summed(gone, school), WIDTH, size=10)
        _worth(page, y + 2, gone, along, school)
    page.close()
    return out.getvalue()


def _total(horns: Sequence[Horn]) -> Decimal:
    return sum((amount for amount, _ in (horn.insured for horn in horns) if amount is not None), Decimal(0))


def _summed(horns: Sequence[Horn], school: School) -> str:
    worth = [horn.insured for horn in horns]
    valued = sum(amount is not None for amount, _ in worth)
    missing, paid = len(horns) - valued, sum(is_price for _, is_price in worth)
    said = _s_many(
        "%(count)d horn, %(valued)s with a value: %(total)s in all.",
        "%(count)d horns, %(valued)s with a value: %(total)s in all.",
        len(horns),
    )
    without = _s_many(
        "%(count)d without one on record, which counts as nothing here.",
        "%(count)d without one on record, which count as nothing here.",
        missing,
    )
    with_price = _s_many(
        "%(count)d of them counts with the price paid, marked *.",
        "%(count)d of them count with the price paid, marked *.",
        paid,
    )
    total = money(_total(horns), school.currency)
    return in_a_row(
        said % {"count": len(horns), "valued": valued, "total": total},
        without % {"count": missing} if missing else "",
        with_price % {"count": paid} if paid else "",
    )


def _worth(page: Sheet, y: float, horns: Sequence[Horn], along: Mapping[int, Sequence[str]], school: School) -> float:
    rows = (
        (
            horn.number,
            "; ".join(filter(None, (horn.what_it_is, ", ".join(map(_s, along.get(horn.pk, ())))))),
            horn.made,
            horn.serial_number,
            horn.acquired("SHORT_DATE_FORMAT") or "–",
            horn.get_grade_display() or _s("not checked"),
            _where(horn),
            f"{money(amount)}{' *' if is_price else ''}" if amount is not None else "–",
        )
        for horn, (amount, is_price) in ((horn, horn.insured) for horn in horns)
    )
    everything = (_s("All"), "", "", "", "", "", school.currency, money(_total(horns)))
    return table(page, y, SCHEDULE, chain(rows, [everything]))


def _where(horn: Horn) -> str:
    if horn.not_found_on:
        return _s("not found since %(day)s") % {"day": day(horn.not_found_on)}
    return horn.whereabouts.without_names
