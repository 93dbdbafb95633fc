"""Makers of test rows: one word a row, with a sensible default for everything a test does not care about."""

from __future__ import annotations

import io
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from pypdf import PdfWriter

from fleet.exchange.models import Batch, Import
from fleet.ground.access import Role
from fleet.lending.models import Agreement, Charge, FamilyAsk, Loan, LoanAccessory, LoanPeriod, ReturnNote, Wish
from fleet.letters.models import Letter
from fleet.people.models import Guardian, Holiday, Post, Pupil, School, User
from fleet.register.actions import keeping
from fleet.register.models import Horn, Place, Standing
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.models import Care, ConditionCheck, FaultReport, Finding, Part, RepairJob

NOW = datetime(2026, 9, 14, 10, 30, tzinfo=UTC)
TODAY = NOW.date()
# Above those that tests write by hand, such as HN-0005.
_numbers = count(101)


def keep(horns: Iterable[Horn]) -> None:
    """In a transaction of its own, as rows are locked: tests with real threads have none around them."""
    with transaction.atomic():
        keeping.keep(horns)


def school(slug: str = "", **fields: Any) -> School:
    n = next(_numbers)
    slug = slug or f"school-{n}"
    return School.objects.create(slug=slug, **{"name": f"School {n}", **fields})


def user(email: str = "", name: str = "", password: str | None = None, **fields: Any) -> User:
    n = next(_numbers)
    return User.objects.create_user(
        email=email or f"person{n}@example.org", password=password, name=name or f"Person {n}", **fields
    )


def staff(role: Role, at: School, **fields: Any) -> User:
    person = user(**fields)
    Post.objects.create(user=person, school=at, role=role.value)
    return person


def guardian(at: School, *, with_account: bool = True, **fields: Any) -> Guardian:
    n = next(_numbers)
    values = {"name": f"Guardian {n}", "email": f"guardian{n}@example.org", **fields}
    account = None
    if with_account and values["email"]:
        account = user(email=values["email"], name=values["name"])
    return Guardian.objects.create(school=at, user=account, **values)


def pupil(at: School, *guardians: Guardian, **fields: Any) -> Pupil:
    n = next(_numbers)
    made = Pupil.objects.create(school=at, **{"name": f"Pupil {n}", "year": "5", **fields})
    made.guardians.set(guardians)
    return made


def holiday(at: School, first: date = date(2027, 2, 8), last: date | None = None, **fields: Any) -> Holiday:
    return Holiday.objects.create(school=at, first=first, last=last or first, **{"name": "Winter", **fields})


def place(at: School, **fields: Any) -> Place:
    return Place.objects.create(school=at, **{"room": f"Room {next(_numbers)}", **fields})


def horn(at: School, **fields: Any) -> Horn:
    """A horn that is identified and may be lent as far as the register goes: give build="" for an unknown one."""
    n = next(_numbers)
    values = {"number": f"HN-{n:04d}", "build": "single-f", "stands_in": "F", **fields}
    if not values["build"]:
        values["stands_in"] = ""
    made = Horn.objects.create(school=at, **values)
    for column, kind in (("withdrawn_on", "withdrawn"), ("not_found_on", "not-found")):
        if values.get(column):
            Standing.objects.create(horn=made, by=user(), at=NOW, kind=kind, on=values[column], reason="Made so.")
    made.refresh_from_db()
    return made


def _check(of: Horn, by: User, *, grade: int = 1, at: datetime = NOW, **fields: Any) -> ConditionCheck:
    return ConditionCheck.objects.create(horn=of, by=by, at=at, grade=grade, **{"finish_grade": 2, **fields})


def check(of: Horn, by: User, **fields: Any) -> ConditionCheck:
    made = _check(of, by, **fields)
    keep([of])
    return made


def finding(on: ConditionCheck, fault: str = "string-broken", severity: str = "r", **fields: Any) -> Finding:
    return Finding.objects.create(check_made=on, school_id=on.horn.school_id, fault=fault, severity=severity, **fields)


def job(of: Horn, by: User, *, state: str = "waiting", at: datetime = NOW, **fields: Any) -> RepairJob:
    closed = at if state in {"done", "given-up"} else None
    made = RepairJob.objects.create(
        school=of.school, horn=of, opened_by=by, opened_at=at, state=state, closed_at=closed, **fields
    )
    keep([of])
    return made


def job_with(of: Horn, by: User, *faults: tuple[str, str], note: str = "", **fields: Any) -> RepairJob:
    """A job for these faults with their severities, which a check has found."""
    made, looked = job(of, by, **fields), check(of, by, grade=3)
    for fault, severity in faults:
        finding(looked, fault, severity, job=made, note=note)
    keep([of])
    return made


def care(of: Horn, by: User, kind: str, on: date = TODAY) -> Care:
    made = Care.objects.create(horn=of, kind=kind, on=on, by=by)
    keep([of])
    return made


def report(of: Horn, by: User, words: str = "The third valve sticks.", **fields: Any) -> FaultReport:
    made = FaultReport.objects.create(horn=of, by=by, words=words, **{"at": NOW, **fields})
    keep([of])
    return made


def part(at: School, **fields: Any) -> Part:
    return Part.objects.create(school=at, **{"name": f"part {next(_numbers)}", "on_hand": 5, **fields})


def agreement(at: School, version: int = 1, **fields: Any) -> Agreement:
    made, _ = Agreement.objects.get_or_create(
        school=at, version=version, defaults={"words": "We look after the horn.", "made_at": NOW, **fields}
    )
    return made


def recalled(of: Loan, by: User, *, due_before: date | None = None) -> Loan:
    """A loan whose due date in force was set by a recall."""
    before = due_before or of.due_on + timedelta(days=30)
    LoanPeriod.objects.create(loan=of, kind="recalled", due_before=before, due_on=of.due_on, at=NOW, by=by)
    keep([of.horn])
    return of


def loan(
    of: Horn,
    to: Pupil,
    by: User,
    *,
    issued_on: date = TODAY,
    due_on: date | None = None,
    returned_on: date | None = None,
    accessories: tuple[str, ...] = ("case", "mouthpiece"),
    **fields: Any,
) -> Loan:
    """A loan as the issue action leaves it, with the horn's own columns moved along."""
    signer = to.guardians.first() or guardian(of.school)
    due = due_on or issued_on + timedelta(days=300)
    made = Loan.objects.create(
        school=of.school,
        horn=of,
        pupil=to,
        guardian=signer,
        agreement=agreement(of.school),
        signed_on=fields.pop("signed_on", issued_on),
        issued_on=issued_on,
        issued_by=by,
        due_on=due,
        returned_on=returned_on,
        check_at_issue=fields.pop("check_at_issue", None) or _check(of, by),
        stands_in=of.stands_in,
        **fields,
    )
    for name in accessories:
        LoanAccessory.objects.create(loan=made, name=name)
    keep([of])
    return made


def charge(on: Loan, by: User, **fields: Any) -> Charge:
    said = {"what": "hire", "amount": Decimal(30), "currency": "EUR", "due_on": TODAY, "made_at": NOW, **fields}
    return Charge.objects.create(loan=on, made_by=by, **said)


def return_note(on: Loan, by: User, **fields: Any) -> ReturnNote:
    said = {"came_back": ["case"], "finish_grade": 2, "at": NOW, **fields}
    made = ReturnNote.objects.create(loan=on, by=by, **said)
    keep([on.horn])
    return made


def ask(on: Loan, by: User, **fields: Any) -> FamilyAsk:
    return FamilyAsk.objects.create(loan=on, by=by, **{"kind": "renew", "at": NOW, **fields})


def letter(about: Loan | OnlineSignature, **fields: Any) -> Letter:
    of_loan = isinstance(about, Loan)
    about_it = {"loan": about, "occasion": "after-1"} if of_loan else {"signature": about, "occasion": "to-sign"}
    said = {**about_it, "due_on": about.due_on, "guardian": about.guardian, "made_at": NOW, **fields}
    said.setdefault("school", said["guardian"].school)
    return Letter.objects.create(**said)


def signature(of: Horn, to: Pupil, by: User, **fields: Any) -> OnlineSignature:
    """An agreement that waits on the first guardian's page."""
    said = {"due_on": TODAY + timedelta(days=200), "shown": "We look after the horn.", "asked_at": NOW, **fields}
    seen = said.pop("check_seen", None) or of.checks.order_by("-at", "-pk").first() or check(of, by)
    made = OnlineSignature.objects.create(
        horn=of,
        pupil=to,
        guardian=to.guardians.get(),
        agreement=agreement(of.school),
        check_seen=seen,
        asked_by=by,
        **said,
    )
    keep([of])
    return made


def sheet(of: Horn, to: Pupil, by: User, **fields: Any) -> SheetOut:
    """A sheet to sign that went home with the pupil."""
    said = {"due_on": TODAY + timedelta(days=200), "printed_at": NOW, **fields}
    seen = said.pop("check_seen", None) or of.checks.order_by("-at", "-pk").first() or check(of, by)
    return SheetOut.objects.create(
        horn=of,
        pupil=to,
        guardian=said.pop("guardian", None) or to.guardians.order_by("pk")[0],
        agreement=agreement(of.school),
        check_seen=seen,
        printed_by=by,
        **said,
    )


def signed_sheet(of: Loan, by: User, name: str = "x.jpg", **fields: Any) -> SignedSheet:
    """A photograph, or a PDF by its name, that nobody looked at."""
    file = ContentFile(b"not looked at here", name=name)
    return SignedSheet.objects.create(loan=of, by=by, file=file, **{"at": NOW, **fields})


def wish(of: Pupil, by: User, **fields: Any) -> Wish:
    """That a pupil waits for any horn, or as is said."""
    return Wish.objects.create(school=of.school, pupil=of, made_by=by, **{"since": TODAY, "made_at": NOW, **fields})


def a_list(at: School, by: User, maker: str = "Bell", **fields: Any) -> Import:
    """A list of horns that was looked over: one row is new, one is refused."""
    made = Import.objects.create(
        school=at,
        kind="horns",
        name="horns.csv",
        by=by,
        at=NOW,
        state="checked",
        top=[[1, ["Nr", "Maker"]], [2, ["N-1", maker]], [3, ["?", maker]]],
        columns=["number", "maker"],
        rows=3,
        **fields,
    )
    new = {"line": 2, "cells": ["N-1", maker], "verdict": "new", "wrong": [], "key": None, "before": {}}
    refused = {"line": 3, "cells": ["?", maker], "verdict": "refused", "key": None, "before": {}, "after": {}}
    rows = [
        {"line": 1, "cells": ["Nr", "Maker"]},
        {**new, "after": {"number": "N-1", "maker": maker}},
        {**refused, "wrong": [["Register number", "?", "No."]]},
    ]
    Batch.objects.create(batch_of=made, place=0, rows=rows, checked=True, new=1, refused=1)
    return made


def pdf(pages: int = 1, *, wide: int = 200, password: str = "") -> bytes:
    """Empty pages, so many points wide."""
    writer, out = PdfWriter(), io.BytesIO()
    for _ in range(pages):
        writer.add_blank_page(wide, 300)
    if password:
        writer.encrypt(password)
    writer.write(out)
    return out.getvalue()
