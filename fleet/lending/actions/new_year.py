"""A new school year begins: classes go on or leave, loans are renewed or called back, all of it at once."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from itertools import groupby

from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.dates import move_together
from fleet.lending.actions.pupils import amend_many, hold_horns_of
from fleet.lending.models import Loan, LoanPeriod
from fleet.lending.queries.new_year import NewYear, YearWish, classes_with_pupils, look_over
from fleet.people.actions.schools import locked_school
from fleet.people.models import Pupil, School, User
from fleet.people.queries.own_words import speaking
from fleet.people.queries.school_days import school_days
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep_all


@transaction.atomic
def begin_year(
    *, school: School, wish: YearWish, left_out: Collection[int], seen: str, by: User, at: datetime
) -> NewYear:
    """Does what was looked over; `seen` is its proof. Refused when any of it is no longer as it was then.

    The new end is the school's from now on. It cannot be undone.
    """
    now, today = locked_school(school.pk), timezone.localdate(at)
    pupils = list(Pupil.objects.at(now).filter(left_on=None).values_list("pk", flat=True))
    hold_horns_of(pupils)
    list(Pupil.objects.select_for_update().filter(pk__in=pupils).order_by("pk"))
    done = look_over(classes_with_pupils(now), wish, school_days(now), left_out=left_out, today=today)
    if done.proof != seen:
        raise Refused(_s("Somebody changed a class or a loan meanwhile. Look it over once more."))
    amend_many(done.changes)
    move_together(loans=done.renewed, kind=LoanPeriod.Kind.RENEWED, due_on=done.until, reason="", by=by, at=at)
    prefetch_related_objects(done.recalled, "guardian__school")
    for language, called in groupby(sorted(done.recalled, key=_spoken), key=_spoken):
        with speaking(now, language):
            reason = gettext("The school year is over.")
        move_together(
            loans=list(called), kind=LoanPeriod.Kind.RECALLED, due_on=done.back_by, reason=reason, by=by, at=at
        )
    keep_all(loan.horn_id for loan in (*done.renewed, *done.recalled))
    record(deed=Deed.YEAR_BEGUN, school=now, by=by, at=at, told=_told(now, done))
    now.year_ends = wish.ends
    now.save(update_fields=["year_ends"])
    return done


def _spoken(loan: Loan) -> str:
    return loan.guardian.speaks


def _told(school: School, done: NewYear) -> list[list[str]]:
    before = school.year_ends.isoformat() if school.year_ends else ""
    told = [["the school year ends on", before, done.wish.ends.isoformat()]]
    for one in done.classes:
        becomes = f"left on {done.wish.last_day.isoformat()}" if one.wish.leaves else one.becomes
        told.append([f"class of {len(one.pupils)}", one.now.words, becomes])
    for what, loans, until in (("renewed", done.renewed, done.until), ("called back", done.recalled, done.back_by)):
        if loans:
            told.append([f"loans {what}", f"{len(loans)}, due on {until.isoformat()}"])
    return told
