"""On paper: a class and its horns, what is overdue, letters to guardians whom no e-mail reaches, parts to order.

The lists are for staff; they hang nowhere public. The letters say the same as those that go by mail.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO

from django.utils.translation import gettext
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.models import Pupil, School
from fleet.people.queries.own_words import speaking
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.table import TICK, TableColumn, table
from fleet.workshop.models import Part

CLASS = (
    TableColumn(_s_lazy("Pupil"), 46),
    TableColumn(_s_lazy("Year"), 15),
    TableColumn(_s_lazy("Horn"), 24),
    TableColumn(_s_lazy("What it is"), 58),
    TableColumn(_s_lazy("Back by"), 34),
    TableColumn(_s_lazy("Out"), 11),
    TableColumn(_s_lazy("Back"), 12),
)
OVERDUE = (
    TableColumn(_s_lazy("Back by"), 30),
    TableColumn(_s_lazy("Days over"), 17, right=True),
    TableColumn(_s_lazy("Horn"), 22),
    TableColumn(_s_lazy("Pupil"), 36),
    TableColumn(_s_lazy("Class"), 24),
    TableColumn(_s_lazy("Their guardian"), 32),
    TableColumn(_s_lazy("How to reach them"), 46),
)

ORDERS = (
    TableColumn(_s_lazy("Part"), 70),
    TableColumn(_s_lazy("The supplier’s number"), 45),
    TableColumn(_s_lazy("Pieces"), 20, right=True),
    TableColumn(_s_lazy("Each"), 25, right=True),
    TableColumn(_s_lazy("In all"), 28, right=True),
    TableColumn(_s_lazy("Ordered"), 18),
)

# Heading, head of the table, one row and the sum.
ROOM_FOR_ONE = 34.0


def class_drawn(
    group: str, pupils: Sequence[Pupil], loans: Sequence[Loan], *, school: School, today: date, paper: str
) -> bytes:
    out = BytesIO()
    of = _s("Horns of %(group)s, %(day)s") if group else _s("Horns of pupils without a class, %(day)s")
    title = of % {"group": group, "day": day(today)}
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
                loan.horn.what_it_is,
                day(loan.due_on),
                TICK,
                TICK,
            )
            for loan in held.get(pupil.pk, [])
        ] or [(pupil.name, pupil.year, "–", _s("no horn"), "", TICK, TICK)]
    if pupils:
        said = _s_many(
            "%(count)d pupil, %(held)d with a horn of the school’s.",
            "%(count)d pupils, %(held)d with a horn of the school’s.",
            len(pupils),
        )
        y = page.paragraph(0, BODY_TOP, said % {"count": len(pupils), "held": len(held)}, WIDTH)
        table(page, y + 2, CLASS, rows)
    else:
        page.paragraph(0, BODY_TOP, _s("Nobody is in this class."), WIDTH, size=11)
    page.close()
    return out.getvalue()


def overdue_drawn(loans: Sequence[Loan], *, school: School, today: date, paper: str) -> bytes:
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Overdue on %(day)s") % {"day": day(today)}, paper=paper)
    if not loans:
        page.paragraph(0, BODY_TOP, _s("Nothing is overdue."), WIDTH, size=11)
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
                    loan.guardian.reached,
                )
                for loan in loans
            ),
        )
    page.close()
    return out.getvalue()


def overdue_letters_drawn(
    written: Iterable[tuple[Loan, str, str]], *, school: School, today: date, paper: str
) -> bytes:
    """The PDF for (loan, subject, words) of each letter, each in the language of its guardian, as the words are."""
    out = BytesIO()
    page: Sheet | None = None
    for loan, subject, words in written:
        with speaking(school, loan.guardian.speaks):
            if page is None:
                page = _begun(out, school, today, paper)
            else:
                page.turn(own=True, head=day(today))
            page.entry(f"{loan.guardian.name}, {loan.horn.number}")
            _letter(page, loan, subject, words)
    if page is None:
        page = _begun(out, school, today, paper)
        none = _s("No letter on paper is needed: e-mail reaches all who are to be told something by now.")
        page.paragraph(0, BODY_TOP, none, WIDTH)
    page.close()
    return out.getvalue()


def _begun(out: BytesIO, school: School, today: date, paper: str) -> Sheet:
    # In the language of its first page, which a file of letters names as its own.
    title = gettext("Letters, %(day)s") % {"day": day(today)}
    return Sheet(out, school=school.name, title=title, head=day(today), paper=paper, foot=school.contact)


def _letter(page: Sheet, loan: Loan, subject: str, words: str) -> None:
    page.folds()
    page.words(0, BODY_TOP + 14, loan.guardian.name, size=11, width=WIDTH)
    given = gettext("given to %(pupil)s") % {"pupil": loan.pupil.described}
    page.words(0, BODY_TOP + 20, given, size=9, grey=True, width=WIDTH)
    y = page.paragraph(0, BODY_TOP + 39, subject, WIDTH, size=12.5, bold=True, lines=3)
    y = page.block(0, y + 3, words, 150, BODY_END - y - 28, size=11)
    page.rule(0, y + 18, 80)
    page.words(0, y + 22, gettext("For the school, signature"), size=8, grey=True, width=80)


def orders_drawn(suppliers: Sequence[tuple[str, Sequence[Part]]], *, school: School, today: date, paper: str) -> bytes:
    """The PDF for parts by supplier, each with the pieces it is short of."""
    out = BytesIO()
    title = _s("Parts to order, %(day)s") % {"day": day(today)}
    page = Sheet(out, school=school.name, title=title, paper=paper, foot=school.contact)
    y = BODY_TOP
    if not suppliers:
        page.paragraph(0, y, _s("Nothing is to be ordered."), WIDTH, size=11)
    for supplier, parts in suppliers:
        if y + ROOM_FOR_ONE > BODY_END:
            page.turn()
            y = BODY_TOP
        page.words(0, y + 6, supplier or _s("No supplier said"), size=12, bold=True, width=WIDTH)
        rows = [
            (part.name, part.order_number, str(part.short), money(part.cost), money(part.order_cost), TICK)
            for part in parts
        ]
        whole = sum((part.order_cost for part in parts), Decimal(0))
        y = table(page, y + 8, ORDERS, rows, keep=8.0)
        page.words_right(WIDTH, y + 5, money(whole, school.currency), bold=True)
        y += 12
    page.close()
    return out.getvalue()
