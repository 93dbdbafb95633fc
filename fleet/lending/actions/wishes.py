"""Writing down who waits for a horn, keeping one for a pupil until a day, and ending either."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.pupils import held
from fleet.lending.models import Loan, Wish
from fleet.people.models import Pupil, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.locking import locked
from fleet.register.models import Horn


@transaction.atomic
def wait(
    *,
    pupil: Pupil,
    horn: Horn | None,
    sort: Mapping[str, Any],
    since: date,
    reserved_until: date | None,
    by: User,
    at: datetime,
) -> Wish:
    """Writes down that a pupil waits for this horn, or for any of a sort (`family`, `kind`, `stands_in`, `compact`).
    What was written down of the same before is ended. Refused where the horn is kept for somebody else, is not the
    school's any more, or is to be kept until a day that is past, and of a pupil who left."""
    today = timezone.localdate(at)
    if horn is not None:
        horn = locked(horn)
        if horn.school_id != pupil.school_id:
            raise Refused(_s("This pupil belongs to another school."))
        if horn.withdrawn_on is not None:
            raise Refused(
                _s("%(horn)s was withdrawn on %(withdrawn_on)s.")
                % {"horn": horn, "withdrawn_on": day(horn.withdrawn_on)}
            )
    pupil = held(pupil)
    if gone := pupil.gone(today):
        raise Refused(gone)
    if reserved_until is not None and reserved_until < today:
        raise Refused(_s("%(reserved_until)s is in the past.") % {"reserved_until": day(reserved_until)})
    before = Wish.objects.filter(ended_on=None)
    if reserved_until is not None:
        kept = before.filter(horn=horn).reserved(today).exclude(pupil=pupil).select_related("pupil").first()
        if kept is not None:
            raise Refused(
                _s("%(horn)s is kept for %(pupil)s %(until)s. End that first.")
                % {"horn": horn, "pupil": kept.pupil, "until": kept.until}
            )
        # One that is over by itself, or of a pupil who left, makes room.
        before.filter(horn=horn).exclude(reserved_until=None).update(ended_on=today)
    same = {"horn": horn} if horn is not None else {"horn": None, **sort}
    before.filter(pupil=pupil, **same).update(ended_on=today)
    wish = Wish(
        school_id=pupil.school_id,
        pupil=pupil,
        since=since,
        reserved_until=reserved_until,
        made_at=at,
        made_by=by,
        **same,
    )
    wish.save(force_insert=True)
    told = [["waits for", _what(wish)], *([["kept until", reserved_until.isoformat()]] if reserved_until else [])]
    record(deed=Deed.WISH_KEPT, school=pupil.school, by=by, at=at, pupil=pupil, horn=horn, told=told)
    return wish


@transaction.atomic
def wait_no_longer(*, wish: Wish, by: User, at: datetime) -> Wish:
    """Ends it. One that has ended already stays as it is."""
    if Wish.objects.filter(pk=wish.pk, ended_on=None).update(ended_on=timezone.localdate(at)):
        told = [["waited for", _what(wish)]]
        record(
            deed=Deed.WISH_ENDED, school=wish.pupil.school, by=by, at=at, pupil=wish.pupil, horn=wish.horn, told=told
        )
    return wish


# The record is in one language.
@kept_in_english()
def _what(wish: Wish) -> str:
    return str(wish.what)


def served(begun: Collection[Loan], on: date) -> None:
    """Inside the transaction that begins these loans: what their pupils waited for and have now has ended."""
    had: dict[int, list[Horn]] = {}
    for loan in begun:
        had.setdefault(loan.pupil_id, []).append(loan.horn)
    open_ones = Wish.objects.filter(pupil__in=had, ended_on=None)
    met = [wish.pk for wish in open_ones if any(wish.is_met_by(horn) for horn in had[wish.pupil_id])]
    Wish.objects.filter(pk__in=met).update(ended_on=on)
