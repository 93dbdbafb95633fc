"""Horns that change hands among adults: a receipt to sign, and the schedule an insurer asks for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO
from itertools import chain

from fleet.ground.wording import day
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
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
    TableColumn("Number", 24),
    TableColumn("What it is", 54),
    TableColumn("Maker, model", 42),
    TableColumn("Serial number", 28),
    TableColumn("Acquired", 20),
    TableColumn("Value", 22, right=True),
)
SIGNATURES = 46.0
CONFIDENTIAL = "Confidential: for the head of department, the school’s office and the insurer."


def receipt_drawn(horns: Sequence[Horn], *, names: tuple[str, ...], school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Handover receipt, {day(today)}", paper=paper)
    these = "This horn changes hands" if len(horns) == 1 else f"These {len(horns)} horns change hands"
    said = f"{these}. Tick each one that is there with its case; strike out what is not."
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
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
    y = table(page, y + 2, RECEIPT, rows)
    if y + SIGNATURES > BODY_END:
        page.turn()
        y = BODY_TOP
    half = WIDTH / 2 - 5
    for x, label, name in ((0.0, "Handed over by", names[0]), (WIDTH - half, "Taken over by", names[1])):
        page.words(x, y + 10, label, size=10, bold=True)
        page.paragraph(x, y + 11.5, name, half, size=10, lines=2)
        if not name:
            page.rule(x, y + 17, half, weight=0.3)
            page.words(x, y + 20.5, "Name", size=8, grey=True)
        page.rule(x, y + 32, half)
        page.words(x, y + 36, "Signature, date", size=8, grey=True)
    page.close()
    return out.getvalue()


def schedule_drawn(horns: Sequence[Horn], *, school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Insurance schedule, {day(today)}", paper=paper, foot=CONFIDENTIAL)
    worth = [horn.insured for horn in horns]
    valued = [amount for amount, _ in worth if amount is not None]
    total = f"{sum(valued, Decimal(0)):,.2f} {school.currency}"
    said = f"{'1 horn' if len(horns) == 1 else f'{len(horns)} horns'}, {len(valued)} with a value: {total} in all."
    if missing := len(horns) - len(valued):
        said += f" {missing} without one on record, which count{'s' if missing == 1 else ''} as nothing here."
    if paid := sum(is_price for _, is_price in worth):
        said += f" {paid} of them count{'s' if paid == 1 else ''} with the price paid, marked *."
    if gone := sum(horn.not_found_on is not None for horn in horns):
        said += f" {gone} of them {'is' if gone == 1 else 'are'} not found: the list says so."
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    rows = (
        (
            horn.number,
            _what_and_whether_found(horn),
            ", ".join(part for part in (horn.maker, horn.model) if part),
            horn.serial_number,
            horn.acquired("j M Y") or "–",
            f"{amount:,.2f}{' *' if is_price else ''}" if amount is not None else "–",
        )
        for horn, (amount, is_price) in zip(horns, worth, strict=True)
    )
    if horns:
        table(
            page,
            y + 2,
            SCHEDULE,
            chain(rows, [("All", "", "", "", school.currency, f"{sum(valued, Decimal(0)):,.2f}")]),
        )
    page.close()
    return out.getvalue()


def _what_and_whether_found(horn: Horn) -> str:
    """An insurer asks about what is missing first."""
    what = kind_and_stand(horn.build, horn.stands_in) or "not identified"
    return f"{what}; not found since {day(horn.not_found_on)}" if horn.not_found_on else what
