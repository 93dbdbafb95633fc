"""How a loan begins. It locks the horn's row first.

Two people who lend the same horn at the same moment queue at that lock; the second then reads that it is out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.agreements import kept_version
from fleet.lending.actions.pupils import held
from fleet.lending.actions.running import record_of
from fleet.lending.actions.wishes import served
from fleet.lending.models import Loan, LoanAccessory
from fleet.people.models import Guardian, Pupil, User
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import latest_check

MOST_ACCESSORIES = 16


@transaction.atomic
def issue(
    *,
    horn: Horn,
    pupil: Pupil,
    guardian: Guardian,
    agreement_version: int,
    check_seen: int,
    due_on: date,
    signed_on: Callable[[], date | None],
    accessories: Sequence[str],
    by: User,
    at: datetime,
    earlier_agreement: bool = False,
) -> Loan:
    """Lends a horn to a pupil after the guardian has signed, and moves the horn's holder and due date.

    `agreement_version` and `check_seen` (the key of a condition check) say what was signed. `signed_on` is asked
    for the day of the signature, None for none, once the horn may be lent to these people; it may refuse itself.
    `earlier_agreement` says that what was signed went home before the newest version, and stays good.
    Raises Refused with the reason: the horn may not be lent now, what was signed is out of date, nobody signed, or
    the people do not belong together.
    """
    horn = locked(horn)
    today = timezone.localdate(at)
    for reason in horn.kept_back_from(pupil.name):
        raise Refused.because(reason)
    held_together(horn, pupil, guardian, today)
    if due_on < today:
        raise Refused(_s("The due date, %(due_on)s, is in the past.") % {"due_on": day(due_on)})
    signed = signed_on()
    if signed is None:
        raise Refused(
            _s("%(guardian)s signs the sheet before the horn goes out. Say when it was signed.")
            % {"guardian": guardian}
        )
    if signed > today:
        raise Refused(
            _s("The guardian cannot have signed on %(signed)s: that day has not come yet.") % {"signed": day(signed)}
        )
    names = on_one_sheet(accessories)
    agreement = kept_version(horn.school_id, agreement_version, at, earlier=earlier_agreement)
    if agreement is None:
        raise Refused(_s("The agreement has a newer version than the sheet. Print the sheet again and have it signed."))
    check = latest_check(horn)
    if check is None or check.pk != check_seen:
        raise Refused(
            _s("%(horn)s was checked again after the sheet was printed. Print the sheet again.") % {"horn": horn}
        )
    loan = Loan(pupil=pupil, guardian=guardian, agreement=agreement, signed_on=signed, due_on=due_on)
    loan.language = guardian.speaks
    begin(loan, horn=horn, check=check, accessories=names, by=by, on=today)
    told = [["due", due_on.isoformat()], ["signed", signed.isoformat()]]
    record_of(loan, deed=Deed.LOAN_BEGUN, by=by, at=at, told=told)
    return loan


def held_together(horn: Horn, pupil: Pupil, guardian: Guardian, today: date) -> None:
    """Refuses people who do not belong together, by the pupil's row as it is now and stays until the transaction ends.

    The caller has the horn locked: the pupil comes after it, as when a pupil is renamed.
    """
    if pupil.school_id != horn.school_id:
        raise Refused(_s("This pupil belongs to another school."))
    now = held(pupil)
    if gone := now.gone(today):
        raise Refused(gone)
    if not now.guardians.filter(pk=guardian.pk).exists():
        raise Refused(
            _s("%(guardian)s does not answer for %(now)s, so cannot sign.") % {"guardian": guardian, "now": now}
        )


def begin(loan: Loan, *, horn: Horn, check: ConditionCheck, accessories: Sequence[str], by: User, on: date) -> None:
    """What begins every loan, inside its action's transaction: its row, what goes along, the horn in their hands."""
    loan.school_id, loan.horn, loan.check_at_issue, loan.stands_in = horn.school_id, horn, check, horn.stands_in
    loan.issued_on, loan.issued_by = on, by
    loan.save(force_insert=True)
    LoanAccessory.objects.bulk_create(LoanAccessory(loan=loan, name=name) for name in accessories)
    served([loan], on)
    keep([horn])


def once_each(names: Sequence[str]) -> list[str]:
    """Names without blanks around them, none twice whatever its capitals, in their order."""
    return list({name.strip().casefold(): name.strip() for name in names if name.strip()}.values())


def on_one_sheet(names: Sequence[str]) -> list[str]:
    """`once_each`, refused where it is more than a loan sheet has room for."""
    names = once_each(names)
    if len(names) > MOST_ACCESSORIES:
        raise Refused(
            _s("A loan sheet has room for %(most)s accessories; put small things under one name.")
            % {"most": MOST_ACCESSORIES}
        )
    return names
