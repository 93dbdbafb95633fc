"""Lists on paper: a class and its horns, and what is overdue. For staff; they hang nowhere public."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from django.http import HttpResponse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans.lending import day
from fleet.loans.models import Loan
from fleet.people.models import Pupil, School
from fleet.reports.page import BODY_TOP, WIDTH, Page, as_pdf, paper_asked
from fleet.reports.table import TICK, Column, table

CLASS = (
    Column("Pupil", 50),
    Column("Year", 14),
    Column("Horn", 26),
    Column("What it is", 56),
    Column("Stands in", 18),
    Column("Due back", 32),
    Column("", 8),
    Column("", 8),
)
OVERDUE = (
    Column("Due back", 30),
    Column("Days", 12, right=True),
    Column("Horn", 24),
    Column("Pupil", 46),
    Column("Class", 22),
    Column("Guardian", 56),
)


def class_list(request: SeatedRequest) -> HttpResponse:
    """The pupils of a class or ensemble (`group`) with the horns they have; two free columns to tick."""
    school, group = request.seat.school, request.GET.get("group", "").replace("\0", "")[:60]
    pupils = Pupil.objects.at(school).filter(group=group, left_on=None).order_by("name", "pk")
    loans = Loan.objects.at(school).open().filter(pupil__group=group).select_related("horn").order_by("horn__number")
    paper = paper_asked(request.GET.get("paper"), school)
    return as_pdf(class_drawn(group, list(pupils), list(loans), school=school, paper=paper), "class-list")


def class_drawn(group: str, pupils: Sequence[Pupil], loans: Sequence[Loan], *, school: School, paper: str) -> bytes:
    out = BytesIO()
    page = Page(out, school=school.name, title=f"Horns of {group or 'pupils without a class'}", paper=paper)
    held: dict[int, list[Loan]] = {}
    for loan in loans:
        held.setdefault(loan.pupil_id, []).append(loan)
    rows: list[tuple[str, ...]] = []
    for pupil in pupils:
        rows += [
            (
                pupil.name,
                pupil.year,
                loan.horn.number,
                loan.horn.kind,
                loan.horn.stands_in,
                day(loan.due_on),
                TICK,
                TICK,
            )
            for loan in held.get(pupil.pk, [])
        ] or [(pupil.name, pupil.year, "–", "no horn", "", "", TICK, TICK)]
    with_horn = len(held)
    y = page.paragraph(0, BODY_TOP, f"{len(pupils)} pupils, {with_horn} with a horn of the school’s.", WIDTH)
    table(page, y + 2, CLASS, rows)
    page.close()
    return out.getvalue()


def overdue_list(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, timezone.localdate(request.now)
    loans = Loan.objects.at(school).overdue(today).select_related("horn", "pupil", "guardian").order_by("due_on", "pk")
    paper = paper_asked(request.GET.get("paper"), school)
    return as_pdf(overdue_drawn(list(loans), school=school, today=today, paper=paper), f"overdue-{today:%Y-%m-%d}")


def overdue_drawn(loans: Sequence[Loan], *, school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Page(out, school=school.name, title=f"Overdue on {day(today)}", paper=paper)
    if not loans:
        page.paragraph(0, BODY_TOP, "Nothing is overdue.", WIDTH, size=11)
    else:
        table(
            page,
            BODY_TOP,
            OVERDUE,
            (
                (
                    day(loan.due_on),
                    str(loan.days_over(today)),
                    loan.horn.number,
                    loan.pupil.name,
                    loan.pupil.group,
                    f"{loan.guardian.name}, {loan.guardian.email or loan.guardian.telephone}",
                )
                for loan in loans
            ),
        )
    page.close()
    return out.getvalue()
