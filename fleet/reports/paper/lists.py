"""Lists on paper: a class and its horns, and what is overdue. For staff; they hang nowhere public."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.models import Pupil, School
from fleet.register.models.kinds import kind_and_stand
from fleet.reports.sheet.page import BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.table import TICK, TableColumn, table

CLASS = (
    TableColumn("Pupil", 50),
    TableColumn("Year", 12),
    TableColumn("Horn", 24),
    TableColumn("What it is", 64),
    TableColumn("Due back", 34),
    TableColumn("", 8),
    TableColumn("", 8),
)
OVERDUE = (
    TableColumn("Due back", 30),
    TableColumn("Days over", 17, right=True),
    TableColumn("Horn", 22),
    TableColumn("Pupil", 36),
    TableColumn("Class", 24),
    TableColumn("Guardian", 32),
    TableColumn("How to reach them", 46),
)


def class_drawn(
    group: str, pupils: Sequence[Pupil], loans: Sequence[Loan], *, school: School, today: date, paper: str
) -> bytes:
    out = BytesIO()
    title = f"Horns of {group or 'pupils without a class'}, {day(today)}"
    page = Sheet(out, school=school.name, title=title, paper=paper)
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
                kind_and_stand(loan.horn.build, loan.horn.stands_in) or "not identified",
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


def overdue_drawn(loans: Sequence[Loan], *, school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Overdue on {day(today)}", paper=paper)
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
