"""What lending has to tell of horns: what is kept on them, what is owed, and the time line of one (`STORY`)."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import WayOut
from fleet.ground.wording import day, shortened
from fleet.lending.models import (
    Charge,
    ChargeQuerySet,
    FamilyAsk,
    FamilyAskQuerySet,
    Loan,
    LoanAccessory,
    LoanAccessoryQuerySet,
    LoanPeriod,
    LoanQuerySet,
    ReturnNote,
    ReturnNoteQuerySet,
    Wish,
    WishQuerySet,
)
from fleet.lending.queries.story import STORY
from fleet.people.models import Pupil, School
from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.owing import Owed, Owing

__all__ = ["OWING", "STORY", "kept"]


def kept() -> dict[str, Any]:
    """Lending's share of what is kept on a horn (see `register.queries.kept`)."""
    out = Loan.objects.open().filter(horn=OuterRef("pk"))
    ended = Loan.objects.ended().filter(horn=OuterRef("pk")).order_by("-returned_on", "-pk")
    newest = LoanPeriod.objects.filter(loan=OuterRef("pk")).order_by("-at", "-pk")
    recalled = out.annotate(moved=Subquery(newest.values("kind")[:1])).filter(moved=LoanPeriod.Kind.RECALLED)
    uncleaned = ExpressionWrapper(Q(mouthpiece_cleaned_on=None), output_field=BooleanField())
    return {
        "holder_name": Coalesce(Subquery(out.values("pupil__name")[:1]), Value("")),
        "holder_group": Coalesce(Subquery(out.values("pupil__group")[:1]), Value("")),
        "due_on": Subquery(out.values("due_on")[:1]),
        "noted_back": Exists(ReturnNote.objects.standing().filter(loan__horn=OuterRef("pk"))),
        "recalled": Exists(recalled),
        "back_on": Subquery(ended.values("returned_on")[:1]),
        "mouthpiece_owed": Coalesce(Subquery(ended.annotate(owed=uncleaned).values("owed")[:1]), Value(False)),
    }


def _out(school: School) -> LoanQuerySet:
    return Loan.objects.at(school).open().select_related("horn", "pupil").order_by("due_on", "pk")


def _overdue(school: School, today: date) -> LoanQuerySet:
    return _out(school).overdue(today)


def _left(school: School, today: date) -> LoanQuerySet:
    gone = Pupil.objects.filter(school=school, left_on__lte=today)
    return _out(school).awaited().filter(pupil__in=gone)


def _recalled(school: School, today: date) -> LoanQuerySet:
    """Asked back sooner than was agreed, and not back; once it is late it is overdue and nothing else."""
    # Found along the horns, few of which say it.
    found = Loan.objects.filter(horn__school=school).in_time(today).recalled()
    return found.select_related("horn", "pupil").order_by("horn__due_on", "horn_id", "pk")


def _noted(school: School, today: date) -> ReturnNoteQuerySet:
    # Found along the horns, few of which say it: of each loan that ended one may be left.
    found = ReturnNote.objects.filter(loan__horn__school=school, loan__horn__noted_back=True).standing()
    return found.select_related("loan__horn", "by").order_by("at", "pk")


def _asked(school: School, today: date) -> FamilyAskQuerySet:
    found = FamilyAsk.objects.at(school).unanswered()
    return found.select_related("loan__horn", "loan__pupil").order_by("kind", "at", "pk")


def _uncleaned(school: School, today: date) -> HornQuerySet:
    """Of a horn that is out again nobody can clean the last player's any more."""
    owed = Horn.objects.at(school).at_hand().filter(mouthpiece_owed=True)
    # Asked for the equal of "", SQLite would read all horns that nobody has.
    found = owed.exclude(holder_name__gt="")
    return found.by_number()


def _found(school: School, today: date) -> LoanQuerySet:
    """Of horns that were lost and are back in their places, as nobody has looked over since: as after any return. One
    that is due for a check anyway is owed that."""
    longest = today - timedelta(days=school.check_days)
    lost = Loan.objects.at(school).exclude(lost_words="").filter(horn__where=Horn.Where.IN_PLACE)
    unseen = lost.filter(horn__checked_on__lt=F("returned_on"), horn__checked_on__gte=longest, horn__mended_on=None)
    return unseen.select_related("horn").order_by("returned_on", "pk")


def _missing(school: School, today: date) -> LoanAccessoryQuerySet:
    found = LoanAccessory.objects.at(school).missing()
    return found.select_related("loan__horn", "loan__pupil").order_by("loan__returned_on", "pk")


def _charged(school: School, today: date) -> ChargeQuerySet:
    return Charge.objects.at(school).due().select_related("loan__horn", "loan__pupil").order_by("due_on", "pk")


def _reserved(school: School, today: date) -> WishQuerySet:
    found = Wish.objects.at(school).reserved(today)
    return found.select_related("horn", "pupil").order_by("reserved_until", "pk")


OWING = (
    Owing(
        "noted",
        _s_lazy("Came back, to be taken back"),
        _noted,
        lambda note, today: Owed(
            _s("%(horn)s: take back, it is here") % {"horn": note.loan.horn},
            _s("%(note)s; noted by %(by)s") % {"note": note, "by": note.by},
            WayOut("loans:return", _s("Take it back"), (note.loan_id,)),
            since=timezone.localdate(note.at),
        ),
        horn="loan__horn_id",
    ),
    Owing(
        "overdue",
        _s_lazy("Overdue"),
        _overdue,
        lambda loan, today: Owed(
            _s("%(horn)s: take back from %(pupil)s") % {"horn": loan.horn, "pupil": loan.pupil.name},
            (_s("%(overdue)s, and it is here for repair") if loan.horn.here_for_repair else "%(overdue)s")
            % {"overdue": loan.due(today).words},
            WayOut("loans:return", _s("Take it back"), (loan.pk,)),
            since=loan.due_on,
            late=True,
        ),
        everything=("loans:loans", "state=overdue"),
    ),
    Owing(
        "leaver",
        _s_lazy("Left the school with a horn"),
        _left,
        lambda loan, today: Owed(
            _s("%(horn)s: take back from %(pupil)s") % {"horn": loan.horn, "pupil": loan.pupil.name},
            _s("left the school on %(left_on)s") % {"left_on": day(loan.pupil.left_on)},
            WayOut("loans:return", _s("Take it back"), (loan.pk,)),
            late=True,
        ),
    ),
    Owing(
        "ask",
        _s_lazy("Families ask"),
        _asked,
        lambda ask, today: Owed(
            _s("%(horn)s: %(pupil)s’s family %(ask)s")
            % {"horn": ask.loan.horn, "pupil": ask.loan.pupil.name, "ask": ask},
            shortened(ask.words),
            WayOut("loans:ask", _s("Answer the family"), (ask.pk,)),
            since=timezone.localdate(ask.at),
            late=ask.kind == FamilyAsk.Kind.LOST,
        ),
        horn="loan__horn_id",
    ),
    Owing(
        "recall",
        _s_lazy("Recalled, not back yet"),
        _recalled,
        lambda loan, today: Owed(
            _s("%(horn)s: %(pupil)s was asked to bring it back") % {"horn": loan.horn, "pupil": loan.pupil.name},
            _s("by %(due_on)s") % {"due_on": day(loan.due_on)},
            WayOut("loans:loan", _s("See the loan"), (loan.pk,)),
        ),
    ),
    Owing(
        "reserved",
        _s_lazy("Kept for a pupil"),
        _reserved,
        lambda wish, today: Owed(
            _s("%(horn)s: kept for %(pupil)s") % {"horn": wish.horn, "pupil": wish.pupil.name},
            wish.until,
            WayOut(
                "loans:issue",
                _s("Issue it to them"),
                query=(("horn", str(wish.horn_id)), ("pupil", str(wish.pupil_id))),
            ),
            since=wish.since,
        ),
        everything=("loans:wishes", ""),
        among_others=True,
    ),
    Owing(
        "mouthpiece",
        _s_lazy("Mouthpieces to be cleaned"),
        _uncleaned,
        lambda horn, today: Owed(
            _s("%(horn)s: clean the mouthpiece") % {"horn": horn},
            _s("not cleaned since the last player"),
            WayOut("loans:mouthpiece-of", _s("Record the cleaning"), (horn.pk,)),
        ),
        horn="pk",
    ),
    Owing(
        "found",
        _s_lazy("Found again, to be checked"),
        _found,
        lambda loan, today: Owed(
            _s("%(horn)s: check its condition") % {"horn": loan.horn},
            _s("lost on %(day)s, found again, and not looked over since") % {"day": day(loan.returned_on)},
            WayOut("workshop:check-new", _s("Check its condition"), (loan.horn_id,)),
        ),
    ),
    Owing(
        "accessory",
        _s_lazy("Did not come back with the horn"),
        _missing,
        lambda thing, today: Owed(
            _s("%(horn)s: %(thing)s, from %(pupil)s")
            % {"horn": thing.loan.horn, "thing": thing, "pupil": thing.loan.pupil.name},
            _s("missing since %(returned_on)s") % {"returned_on": day(thing.loan.returned_on)},
            WayOut("loans:accessory", _s("Say what became of it"), (thing.pk,)),
        ),
        horn="loan__horn_id",
    ),
    Owing(
        "charge",
        _s_lazy("Charges not paid yet"),
        _charged,
        lambda charge, today: Owed(
            f"{charge.loan.horn}, {charge.loan.pupil.name}: {charge}",
            charge.due(today).words_or(_s("to be paid by %(due_on)s") % {"due_on": day(charge.due_on)}),
            WayOut("loans:charge", _s("Settle it"), (charge.pk,)),
            since=charge.due_on if charge.due(today).is_over else None,
            late=charge.due(today).is_over,
        ),
        horn="loan__horn_id",
        everything=("loans:charges", ""),
    ),
)
