"""What signing has to tell of horns: what is kept on them, and what is owed. A story begins with the loan."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Exists, F, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.due import DueDay
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import WayOut
from fleet.ground.wording import day
from fleet.lending.models import Loan, LoanQuerySet
from fleet.people.models import School
from fleet.register.queries.owing import Owed, Owing
from fleet.register.queries.story import StoryPart
from fleet.signing.models import OnlineSignature, OnlineSignatureQuerySet, Proposed, SheetOut, SheetOutQuerySet
from fleet.signing.queries.awaited import way_to

STORY: tuple[StoryPart, ...] = ()


def kept() -> dict[str, Any]:
    """Signing's share of what is kept on a horn (see `register.queries.kept`)."""
    promised = OnlineSignature.objects.unused().filter(horn=OuterRef("pk")).order_by("-asked_at", "-pk")
    return {"promised_to": Coalesce(Subquery(promised.values("pupil__name")[:1]), Value(""))}


def _promised(school: School, today: date) -> OnlineSignatureQuerySet:
    """Who has signed gets the horn next; then who was asked first."""
    stands = OnlineSignature.objects.filter(pk=OuterRef("pk")).standing(today)
    found = OnlineSignature.objects.at(school).unused().annotate(stands=Exists(stands))
    return found.select_related(*Proposed.SAID_OF).order_by(F("signed_at").asc(nulls_last=True), "asked_at", "pk")


def _said(one: OnlineSignature, today: date) -> Owed:
    if not one.stands:  # type: ignore[attr-defined]
        what, (why, label) = f"{one.horn}, {one.pupil.name}", _overtaken(one, today)
    elif one.signed_at is not None:
        what, why, label = (
            _s("%(horn)s: hand it out to %(pupil)s") % {"horn": one.horn, "pupil": one.pupil.name},
            _s("%(guardian)s has signed") % {"guardian": one.guardian},
            _s("Hand it out"),
        )
    else:
        what, why, label = (
            f"{one.horn}, {one.pupil.name}",
            _s("%(guardian)s has not signed yet") % {"guardian": one.guardian},
            _s("See what is asked"),
        )
    since = timezone.localdate(one.signed_at or one.asked_at)
    return Owed(what, why, way_to([one], label), since=since, late=one.pupil.left_on is not None)


def _overtaken(one: OnlineSignature, today: date) -> tuple[str, str]:
    """Why what was put before the family is not what would be lent any more, and what is done then."""
    if one.pupil.left_on is not None:
        leaves = one.pupil.left_on > today
        why = _s("leaves the school on %(left_on)s") if leaves else _s("left the school on %(left_on)s")
        return why % {"left_on": day(one.pupil.left_on)}, _s("Take it back")
    if DueDay(one.due_on, today).is_over:
        why = _s("its due day has passed: ask %(guardian)s again")
    else:
        why = _s("looked over again since it was asked for: ask %(guardian)s again")
    return why % {"guardian": one.guardian}, _s("Ask again")


def _sheets_out(school: School, today: date) -> SheetOutQuerySet:
    found = SheetOut.objects.at(school).out()
    return found.select_related(*Proposed.SAID_OF).order_by("printed_at", "pk")


def _sheet_said(one: SheetOut, today: date) -> Owed:
    return Owed(
        one.in_words,
        _s("%(guardian)s has not brought the sheet back yet") % {"guardian": one.guardian},
        WayOut("loans:sheet-out", _s("Hand it out"), (one.pk,)),
        since=timezone.localdate(one.printed_at),
        late=one.is_late(today),
    )


def _unsigned(school: School, today: date) -> LoanQuerySet:
    """Of loans that came in by a list the sheet is signed later."""
    # In the order of the horns, and so along them.
    found = Loan.objects.filter(horn__school=school).unsigned()
    return found.select_related("horn", "pupil", "guardian").order_by("horn__number_stem", "horn__number_tail", "pk")


OWING = (
    Owing("signature", _s_lazy("Agreements to be signed"), _promised, _said),
    Owing(
        "sheet",
        _s_lazy("Sheets to sign that are out"),
        _sheets_out,
        _sheet_said,
        everything=("register:horns", "owed=sheet"),
    ),
    Owing(
        "unsigned",
        _s_lazy("Loans from a list, to be signed"),
        _unsigned,
        lambda loan, today: Owed(
            _s("%(horn)s, %(pupil)s: have the sheet signed") % {"horn": loan.horn, "pupil": loan.pupil.name},
            _s("%(guardian)s has not signed yet") % {"guardian": loan.guardian},
            WayOut("loans:signed", _s("Record the signature"), (loan.pk,)),
            since=loan.issued_on,
        ),
        everything=("register:horns", "owed=unsigned"),
    ),
)
