"""Horns that change hands among adults: a receipt to sign, and the schedule an insurer asks for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO

from django.http import HttpResponse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans.lending import day
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.labels import horns_asked
from fleet.reports.page import BODY_END, BODY_TOP, WIDTH, Page, as_pdf, paper_asked
from fleet.reports.table import TICK, Column, table

MOST = 2000
RECEIPT = (
    Column("", 8),
    Column("Number", 26),
    Column("What it is", 60),
    Column("Serial number", 34),
    Column("Where", 38),
    Column("Plays", 24),
)
SCHEDULE = (
    Column("Number", 24),
    Column("What it is", 52),
    Column("Maker, model", 42),
    Column("Serial number", 30),
    Column("Acquired", 22),
    Column("Value", 24, right=True),
)
SIGNATURES = 46.0


def receipt(request: SeatedRequest) -> HttpResponse:
    """A receipt for the horns asked for, with the names `from` and `to` if given; both sign. No values, no pupils."""
    school, today = request.seat.school, timezone.localdate(request.now)
    horns = list(horns_asked(request).select_related("place")[:MOST])
    names = tuple(request.GET.get(key, "").replace("\0", "")[:80] for key in ("from", "to"))
    paper = paper_asked(request.GET.get("paper"), school)
    content = receipt_drawn(horns, names=names, school=school, today=today, paper=paper)
    return as_pdf(content, f"handover-{today:%Y-%m-%d}")


def receipt_drawn(horns: Sequence[Horn], *, names: tuple[str, ...], school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Page(out, school=school.name, title=f"Handover receipt, {day(today)}", paper=paper)
    said = f"These {len(horns)} horns change hands. Tick each one that is there with its case; strike out what is not."
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    rows = (
        (
            TICK,
            horn.number,
            f"{horn.kind}{', stands in ' + horn.stands_in if horn.stands_in else ''}" or "not identified",
            horn.serial_number,
            Horn.Where(horn.where).label if horn.where != Horn.Where.CUPBOARD else str(horn.place or "no place"),
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
        page.words(x, y + 16, name, size=10, width=half)
        page.rule(x, y + 30, half)
        page.words(x, y + 34, "Signature, date", size=8, grey=True)
    page.close()
    return out.getvalue()


def schedule(request: SeatedRequest) -> HttpResponse:
    """What each horn is worth, for the insurer: heads only, and no names of pupils."""
    school, today = request.seat.school, timezone.localdate(request.now)
    horns = list(horns_asked(request)[:MOST])
    paper = paper_asked(request.GET.get("paper"), school)
    return as_pdf(schedule_drawn(horns, school=school, today=today, paper=paper), f"insurance-{today:%Y-%m-%d}")


def schedule_drawn(horns: Sequence[Horn], *, school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Page(
        out, school=school.name, title=f"Insurance schedule, {day(today)}", paper=paper, foot="Confidential: values."
    )
    valued = [horn.value for horn in horns if horn.value is not None]
    said = f"{len(horns)} horns, {len(valued)} with a value: {sum(valued, Decimal(0)):,.2f} {school.currency} in all."
    if len(valued) < len(horns):
        said += f" {len(horns) - len(valued)} without one on record, which count as nothing here."
    y = page.paragraph(0, BODY_TOP, said, WIDTH, size=10)
    rows = (
        (
            horn.number,
            horn.kind or "not identified",
            ", ".join(part for part in (horn.maker, horn.model) if part),
            horn.serial_number,
            f"{horn.acquired_on:%Y-%m-%d}" if horn.acquired_on else "",
            f"{horn.value:,.2f}" if horn.value is not None else "–",
        )
        for horn in horns
    )
    table(page, y + 2, SCHEDULE, rows)
    page.close()
    return out.getvalue()
