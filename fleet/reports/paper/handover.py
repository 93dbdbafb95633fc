"""Horns that change hands among adults: a receipt to sign, and the schedule an insurer asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO
from itertools import chain

from fleet.ground.wording import day
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand
from fleet.reports.sheet.page import BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.ruled import heading
from fleet.reports.sheet.table import TICK, TableColumn, table

RECEIPT = (
    TableColumn("", 8),
    TableColumn("Number", 26),
    TableColumn("What it is", 58),
    TableColumn("Serial number", 30),
    TableColumn("Where", 42),
    TableColumn("Plays", 26),
)
SCHEDULE = (
    TableColumn("Number", 20),
    TableColumn("What it is, goes with it", 46),
    TableColumn("Maker, model", 28),
    TableColumn("Serial number", 22),
    TableColumn("Acquired", 18),
    TableColumn("Plays", 18),
    TableColumn("Where", 26),
    TableColumn("Value", 22, right=True),
)
SIGNATURES = 46.0
CONFIDENTIAL = "Confidential: for the head of department, the school’s office and the insurer."


def receipt_drawn(horns: Sequence[Horn], *, names: tuple[str, ...], school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Handover receipt, {day(today)}", paper=paper)
    there = [horn for horn in horns if horn.not_found_on is None]
    these = "This horn changes hands" if len(there) == 1 else f"These {len(there)} horns change hands"
    said = f"{these}. Tick each one that is there with its case; strike out what is not."
    if gone := [horn.number for horn in horns if horn.not_found_on is not None]:
        said += f" Left out, since not found: {', '.join(gone)}."
    if not there:
        said = "There is no horn to hand over."
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
            kind_and_stand(horn.build, horn.stands_in) or "not identified",
            horn.serial_number,
            horn.whereabouts.without_names,
            horn.get_grade_display() or "not checked",
        )
        for horn in horns
    )
    y = table(page, y + 2, RECEIPT, rows, keep=SIGNATURES)
    half = WIDTH / 2 - 5
    for x, label, name in ((0.0, "Handed over by", names[0]), (WIDTH - half, "Taken over by", names[1])):
        page.words(x, y + 10, label, size=10, bold=True)
        page.paragraph(x, y + 11.5, name, half, size=10, lines=2)
        if not name:
            page.rule(x, y + 17, half, weight=0.3)
            page.words(x, y + 20.5, "Name", size=8, grey=True)
        page.rule(x, y + 32, half)
        page.words(x, y + 36, "Signature, date", size=8, grey=True)


def schedule_drawn(
    horns: Sequence[Horn], *, along: Mapping[int, Sequence[str]], school: School, today: date, paper: str
) -> bytes:
    """What each horn is worth; those not found apart. `along` has what goes with a horn, by its key."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Insurance schedule, {day(today)}", paper=paper, foot=CONFIDENTIAL)
    there = [horn for horn in horns if horn.not_found_on is None]
    gone = [horn for horn in horns if horn.not_found_on is not None]
    said = _summed(there, school)
    if gone:
        said += f" Not found, and not counted there: {len(gone)}; they stand apart."
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    if there:
        y = _worth(page, y + 2, there, along, school)
    if gone:
        y = heading(page, y + 2, "Not found")
        y = page.paragraph(0, y, _summed(gone, school), WIDTH, size=10)
        _worth(page, y + 2, gone, along, school)
    page.close()
    return out.getvalue()


def _total(horns: Sequence[Horn]) -> Decimal:
    return sum((amount for amount, _ in (horn.insured for horn in horns) if amount is not None), Decimal(0))


def _summed(horns: Sequence[Horn], school: School) -> str:
    worth = [horn.insured for horn in horns]
    valued = sum(amount is not None for amount, _ in worth)
    total = f"{_total(horns):,.2f} {school.currency}"
    said = f"{'1 horn' if len(horns) == 1 else f'{len(horns)} horns'}, {valued} with a value: {total} in all."
    if missing := len(horns) - valued:
        said += f" {missing} without one on record, which count{'s' if missing == 1 else ''} as nothing here."
    if paid := sum(is_price for _, is_price in worth):
        said += f" {paid} of them count{'s' if paid == 1 else ''} with the price paid, marked *."
    return said


def _worth(page: Sheet, y: float, horns: Sequence[Horn], along: Mapping[int, Sequence[str]], school: School) -> float:
    rows = (
        (
            horn.number,
            "; ".join(filter(None, (_what(horn), ", ".join(along.get(horn.pk, ()))))),
            ", ".join(part for part in (horn.maker, horn.model) if part),
            horn.serial_number,
            horn.acquired("j M Y") or "–",
            horn.get_grade_display() or "not checked",
            f"not found since {day(horn.not_found_on)}" if horn.not_found_on else horn.whereabouts.without_names,
            f"{amount:,.2f}{' *' if is_price else ''}" if amount is not None else "–",
        )
        for horn, (amount, is_price) in ((horn, horn.insured) for horn in horns)
    )
    everything = ("All", "", "", "", "", "", school.currency, f"{_total(horns):,.2f}")
    return table(page, y, SCHEDULE, chain(rows, [everything]))


def _what(horn: Horn) -> str:
    return kind_and_stand(horn.build, horn.stands_in) or "not identified"
