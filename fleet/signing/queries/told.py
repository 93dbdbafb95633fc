"""What signing has to tell of horns: what is kept on them, and what is owed. A story begins with the loan."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import F, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.ground.refusal import WayOut
from fleet.lending.models import Loan, LoanQuerySet
from fleet.people.models import School
from fleet.register.models import HornQuerySet
from fleet.register.queries.owing import Owed, Owing
from fleet.register.queries.story import StoryPart
from fleet.signing.models import OnlineSignature, OnlineSignatureQuerySet, Proposed, SheetOut, SheetOutQuerySet
from fleet.signing.queries.awaited import way_to

STORY: tuple[StoryPart, ...] = ()


def kept() -> dict[str, Any]:
    """Signing's share of what is kept on a horn (see `register.queries.kept`)."""
    promised = OnlineSignature.objects.unused().filter(horn=OuterRef("pk")).order_by("-asked_at", "-pk")
    return {"promised_to": Coalesce(Subquery(promised.values("pupil__name")[:1]), Value(""))}


def _promised(horns: HornQuerySet, school: School, today: date) -> OnlineSignatureQuerySet:
    """Who has signed gets the horn next; then who was asked first."""
    found = OnlineSignature.objects.at(school).unused().filter(horn__in=horns)
    return found.select_related(*Proposed.SAID_OF).order_by(F("signed_at").asc(nulls_last=True), "asked_at", "pk")


def _said(one: OnlineSignature, today: date) -> Owed:
    if one.signed_at is not None:
        what, why, label = f"{one.horn}: hand it out to {one.pupil.name}", f"{one.guardian} has signed", "Hand it out"
    else:
        what, why, label = f"{one.horn}, {one.pupil.name}", f"{one.guardian} has not signed yet", "See what is asked"
    since = timezone.localdate(one.signed_at or one.asked_at)
    return Owed(
        "signature", one.horn_id, what, why, way_to([one], label), since=since, late=one.pupil.left_on is not None
    )


def _sheets_out(horns: HornQuerySet, school: School, today: date) -> SheetOutQuerySet:
    found = SheetOut.objects.at(school).out().filter(horn__in=horns)
    return found.select_related(*Proposed.SAID_OF).order_by("printed_at", "pk")


def _sheet_said(one: SheetOut, today: date) -> Owed:
    return Owed(
        "sheet",
        one.horn_id,
        one.in_words,
        f"{one.guardian} has not brought the sheet back yet",
        WayOut("loans:sheet-out", "Hand it out", (one.pk,)),
        since=timezone.localdate(one.printed_at),
        late=one.is_late(today),
    )


def _unsigned(horns: HornQuerySet, school: School, today: date) -> LoanQuerySet:
    """Of loans that came in by a list the sheet is signed later."""
    found = Loan.objects.at(school).unsigned().filter(horn__in=horns)
    return found.select_related("horn", "pupil", "guardian").order_by("horn__number_stem", "horn__number_tail", "pk")


OWING = (
    Owing("signature", "Agreements to be signed", _promised, _said),
    Owing(
        "sheet", "Sheets to sign that are out", _sheets_out, _sheet_said, everything=("register:horns", "owed=sheet")
    ),
    Owing(
        "unsigned",
        "Loans from a list, to be signed",
        _unsigned,
        lambda loan, today: Owed(
            "unsigned",
            loan.horn_id,
            f"{loan.horn}, {loan.pupil.name}: have the sheet signed",
            f"{loan.guardian} has not signed yet",
            WayOut("loans:signed", "Record the signature", (loan.pk,)),
            since=loan.issued_on,
        ),
        everything=("register:horns", "owed=unsigned"),
    ),
)
