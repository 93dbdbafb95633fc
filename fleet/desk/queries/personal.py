"""Everything on record about a family, as plain data: what they may take along, and what a school hands out."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.core.files.storage import default_storage
from django.db.models import Q

from fleet.lending.models import Charge, FamilyAsk, Loan
from fleet.letters.models import Letter
from fleet.people.models import Guardian, Pupil
from fleet.record.models import Act
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.models import FaultReport

ABOUT = """\
This file holds everything that the school’s horn register has on record about you and the pupils you answer for:
data.json, in JSON (RFC 8259), which any text editor opens. Dates are written year-month-day. Signed sheets that the
school keeps as a photograph or a PDF lie beside it, as data.json names them.
It holds no bank data, no health data and no birth dates: the register keeps none.
Questions go to the school.
"""


def of_guardians(guardians: Iterable[Guardian]) -> dict[str, Any]:
    """What is on record about these guardians and the pupils they answer for, at whatever school."""
    guardians = list(guardians)
    pupils = Pupil.objects.filter(guardians__in=guardians).distinct().order_by("pk")
    return {
        "guardians": [_guardian(one) for one in guardians],
        "pupils": [of_pupil(pupil, guardians) for pupil in pupils],
    }


def of_pupil(pupil: Pupil, guardians: Iterable[Guardian] | None = None) -> dict[str, Any]:
    """What is on record about a pupil. With guardians given, only what concerns those of the people around them."""
    loans = Loan.objects.filter(pupil=pupil).select_related("horn", "guardian", "agreement", "check_at_issue", "noted")
    loans = loans.prefetch_related("accessories", "periods")
    about = Q(loan__pupil=pupil)
    signatures, sheets = OnlineSignature.objects.filter(pupil=pupil), SheetOut.objects.filter(pupil=pupil)
    letters = Letter.objects.of_pupil(pupil)
    asks, reports = FamilyAsk.objects.filter(about), FaultReport.objects.filter(pupil=pupil)
    signed = SignedSheet.objects.filter(about)
    if guardians is not None:
        known = list(guardians)
        users = [one.user_id for one in known if one.user_id is not None]
        letters, signatures = letters.filter(guardian__in=known), signatures.filter(guardian__in=known)
        sheets, signed = sheets.filter(guardian__in=known), signed.filter(loan__guardian__in=known)
        asks, reports = asks.filter(by__in=users), reports.filter(by__in=users)
        others: list[Guardian] = []
    else:
        others = list(pupil.guardians.order_by("pk"))
    acts = Act.objects.filter(school=pupil.school_id, pupil=pupil).order_by("pk")
    mine = {one.pk for one in (guardians or others)}
    return {
        "school": pupil.school.name,
        "name": pupil.name,
        "family_name": pupil.family_name,
        "school_id": pupil.pupil_id,
        "year": pupil.year,
        "class": pupil.group,
        "left_on": pupil.left_on,
        "struck_out": pupil.struck_out,
        "needs": {"wrap": pupil.needs_wrap, "kind": pupil.needs_kind},
        "guardians": [_guardian(one) for one in others],
        "loans": [_loan(one, mine) for one in loans.order_by("issued_on", "pk")],
        "loans_of_older_lists": list(
            pupil.past_loans.order_by("issued_on", "pk").values("horn__number", "issued_on", "returned_on", "notes")
        ),
        "charges": list(
            Charge.objects.filter(about).values("what", "amount", "currency", "due_on", "state", "settled_on")
        ),
        "letters": list(letters.values("occasion", "due_on", "state", "address", "sent_at", "subject", "words")),
        "signatures": list(
            signatures.values("due_on", "asked_at", "signed_at", "typed_name", "signer_works_here", "shown")
        ),
        "sheets_to_sign": list(
            sheets.order_by("pk").values("horn__number", "due_on", "accessories", "printed_at", "put_away_at")
        ),
        "signed_sheets": list(signed.values("loan__horn__number", "loan__issued_on", "at", "file")),
        "waits_for": list(
            pupil.wishes.order_by("pk").values(
                "horn__number", "family", "kind", "stands_in", "compact", "since", "reserved_until", "ended_on"
            )
        ),
        "asked": list(asks.values("kind", "words", "at", "answered_at", "answer")),
        # What else an act tells may be somebody else's.
        "recorded": [{"at": act.at, "done": act.what} for act in acts],
        "faults_reported": list(reports.values("horn__number", "words", "still_plays", "at", "answered_at", "answer")),
    }


def as_json(data: dict[str, Any]) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False, default=str)


def as_zip(data: dict[str, Any], *, at: datetime) -> bytes:
    out = io.BytesIO()
    stamp = (at.year, at.month, at.day, at.hour, at.minute, 0)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, words in (("ABOUT.txt", ABOUT), ("data.json", as_json(data))):
            file.writestr(zipfile.ZipInfo(name, stamp), words, zipfile.ZIP_DEFLATED)
        for name in (one["file"] for pupil in data["pupils"] for one in pupil["signed_sheets"]):
            # One whose file is gone is left out, as on the pages.
            if default_storage.exists(name):
                with default_storage.open(name, "rb") as sheet:
                    file.writestr(zipfile.ZipInfo(name, stamp), sheet.read())
    return out.getvalue()


def _guardian(one: Guardian) -> dict[str, Any]:
    changes = one.address_changes.order_by("pk").values("before", "at", "objected_at")
    return {
        "name": one.name,
        "email": one.email,
        "telephone": one.telephone,
        "address_since": one.address_since,
        "addresses_before": list(changes),
    }


def _loan(loan: Loan, mine: set[int]) -> dict[str, Any]:
    return {
        "horn": loan.horn.number,
        "kind": loan.horn.kind,
        # Who else signed for the child is that person's own data.
        "signed_by": loan.guardian.name if loan.guardian_id in mine else "another guardian",
        "from_a_list": loan.from_list,
        "signed_on": loan.signed_on,
        "agreement_version": loan.agreement.version,
        "issued_on": loan.issued_on,
        "due_on": loan.due_on,
        "due_dates_moved": [
            {"kind": one.kind, "from": one.due_before, "to": one.due_on, "reason": one.reason, "at": one.at}
            for one in loan.periods.all()
        ],
        "returned_on": loan.returned_on,
        "lost": loan.lost_words,
        "notes_at_return": loan.return_notes,
        "noted_before_the_return": str(loan.as_noted or ""),
        "accessories": [
            {"name": one.name, "came_back": one.came_back, "settled": one.settled_as, "settled_on": one.settled_on}
            for one in loan.accessories.all()
        ],
        "grade_at_issue": loan.check_at_issue.grade if loan.check_at_issue else None,
    }
