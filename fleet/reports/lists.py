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
from fleet.people.openings import note
from fleet.register.kinds import finding_in_words
from fleet.reports.page import BODY_TOP, WIDTH, Page, as_pdf, paper_asked
from fleet.reports.table import TICK, Column, table

CLASS = (
    Column("Pupil", 50),
    Column("Year", 12),
    Column("Horn", 24),
    Column("What it is", 64),
    Column("Due back", 34),
    Column("", 8),
    Column("", 8),
)
OVERDUE = (
    Column("Due back", 30),
    Column("Days over", 17, right=True),
    Column("Horn", 22),
    Column("Pupil", 36),
    Column("Class", 24),
    Column("Guardian", 32),
    Column("How to reach them", 46),
)


def class_list(request: SeatedRequest) -> HttpResponse:
    """The pupils of a class or ensemble (`group`) with the horns they have; two free columns to tick."""
    school, group = request.seat.school, request.GET.get("group", "").replace("\0", "")[:60]
    pupils = Pupil.objects.at(school).filter(group=group, left_on=None).order_by("name", "pk")
    loans = Loan.objects.at(school).open().filter(pupil__group=group).select_related("horn").order_by("horn__number")
    today, paper = timezone.localdate(request.now), paper_asked(request.GET.get("paper"), school)
    note(request)
    content = class_drawn(group, list(pupils), list(loans), school=school, today=today, paper=paper)
    return as_pdf(content, "class-list")


def class_drawn(
    group: str, pupils: Sequence[Pupil], loans: Sequence[Loan], *, school: School, today: date, paper: str
) -> bytes:
    out = BytesIO()
    title = f"Horns of {group or 'pupils without a class'}, {day(today)}"
    page = Page(out, school=school.name, title=title, paper=paper)
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
                finding_in_words(loan.horn.build, loan.horn.stands_in) or "not identified",
                day(loan.due_on),
                TICK,
                TICK,
            )
            for loan in held.get(pupil.pk, [])
        ] or [(pupil.name, pupil.year, "–", "no horn", "", TICK, TICK)]
    if pupils:
        counted = "1 pupil" if len(pupils) == 1 else f"{len(pupils)} pupils"
        y = page.paragraph(0, BODY_TOP, f"{counted}, {len(held)} with a horn of the school’s.", WIDTH)
        table(page, y + 2, CLASS, rows)
    else:
        page.paragraph(0, BODY_TOP, "Nobody is in this class.", WIDTH, size=11)
    page.close()
    return out.getvalue()


def overdue_list(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, timezone.localdate(request.now)
    loans = Loan.objects.at(school).overdue(today).select_related("horn", "pupil", "guardian").order_by("due_on", "pk")
    paper = paper_asked(request.GET.get("paper"), school)
    note(request)
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
                    loan.guardian.name,
                    loan.guardian.email or loan.guardian.telephone,
                )
                for loan in loans
            ),
        )
    page.close()
    return out.getvalue()
