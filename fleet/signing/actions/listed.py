"""Loans that ran already when the school began to keep them here: taken over from its list, to be signed later."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Reason, Refused
from fleet.lending.actions.agreements import kept_version
from fleet.lending.actions.issuing import held_together
from fleet.lending.actions.wishes import served
from fleet.lending.models import Loan
from fleet.lending.queries.agreements import current_agreement
from fleet.people.models import Guardian, Pupil, School, User
from fleet.record.actions.recording import About, record_many
from fleet.record.models import Deed
from fleet.record.queries.pointing import what_points_to
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.locking import locked_all
from fleet.register.models import Horn
from fleet.workshop.queries.condition import latest_checks_of

# A horn that is out already need not be identified, checked or clean; but it can be in one place only.
ELSEWHERE = {"withdrawn", "not-found", "out", "workshop", "away", "promised"}


class Listed(NamedTuple):
    """A row of the list, by keys."""

    horn: int
    pupil: int
    guardian: int
    issued_on: date
    due_on: date


def cannot_be_out(horn: Horn) -> Reason | None:
    """Why a pupil cannot have this horn now, by its row; None where nothing speaks against it."""
    return next((reason for reason in horn.kept_back if reason.code in ELSEWHERE), None)


@transaction.atomic
def begin_listed(*, school: School, listed: Sequence[Listed], by: User, at: datetime) -> list[Loan]:
    """The loans, in the order given, signed by nobody yet. Refused where a horn is elsewhere by now, or the people do
    not belong together."""
    horns = locked_all(one.horn for one in listed)
    pupils = Pupil.objects.at(school).in_bulk([one.pupil for one in listed])
    guardians = Guardian.objects.filter(school=school).in_bulk([one.guardian for one in listed])
    agreement = kept_version(school.pk, current_agreement(school).version, at)
    checks, made = latest_checks_of(horns), dict[int, Loan]()
    # By pupil, so that two who lend to the same class never wait for each other for ever.
    for one in sorted(listed, key=lambda one: one.pupil):
        horn, pupil, guardian = horns.get(one.horn), pupils.get(one.pupil), guardians.get(one.guardian)
        if horn is None or pupil is None or guardian is None:
            raise Refused(_s("A horn, a pupil or a guardian of this list is not on record any more."))
        if no := cannot_be_out(horn):
            raise Refused.because(no)
        held_together(horn, pupil, guardian, timezone.localdate(at))
        made[one.horn] = Loan(
            school=school,
            horn=horn,
            pupil=pupil,
            guardian=guardian,
            agreement=agreement,
            from_list=True,
            issued_on=one.issued_on,
            issued_by=by,
            due_on=one.due_on,
            check_at_issue=checks.get(horn.pk),
            stands_in=horn.stands_in,
        )
    loans = Loan.objects.bulk_create([made[one.horn] for one in listed])
    served(loans, timezone.localdate(at))
    keep_all(list(horns))
    acts = [About([["due", str(one.due_on)]], guardian=one.guardian, pupil=one.pupil, horn=one.horn) for one in loans]
    record_many(deed=Deed.LOAN_LISTED, school=school.pk, by=by, at=at, acts=acts)
    return loans


@transaction.atomic
def take_back_listed(*, school: School, loans: Mapping[int, Listed]) -> None:
    """Removes loans of a list that was brought in by mistake, by their keys. Refused where anything happened since.

    A wish that a loan of the list met has ended for good.
    """
    locked_all(one.horn for one in loans.values())
    found = Loan.objects.at(school).select_related("horn", "pupil").in_bulk(list(loans))
    for key, one in loans.items():
        loan = found.get(key)
        if loan is None or loan.signed_on or not loan.is_open or (loan.issued_on, loan.due_on) != one[3:]:
            raise Refused(_s("A loan of this list was changed since, so the import cannot be undone."))
    if happened := what_points_to(Loan, loans):
        raise Refused(
            _s("Something hangs on one of these loans by now (%(happened)s), so the import cannot be undone.")
            % {"happened": happened}
        )
    Loan.objects.filter(pk__in=list(loans)).delete()
    keep_all([one.horn for one in loans.values()])
