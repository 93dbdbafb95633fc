"""Money owed for a loan: charged, then paid or remitted."""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.running import record_of
from fleet.lending.models import Charge, Loan
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.record.queries.telling import worded

# An account number in the reason for a charge would sit in a table that is no place for it.
BANK_DATA = re.compile(r"\b[A-Z]{2}\d{2}(?: ?[A-Z0-9]){11,}|\d(?:[ -]?\d){10,}", re.IGNORECASE)


@transaction.atomic
def charge(*, loan: Loan, what: str, amount: Decimal, due_on: date, by: User, at: datetime) -> Charge:
    """Money owed for a loan, in the school's currency. Raises Refused for nothing, too much, or bank data."""
    what = " ".join(what.split())
    if not what:
        raise Refused(_s("Say what the charge is for."))
    if not Decimal(0) < amount < Decimal(1_000_000):
        raise Refused(_s("A charge is more than nothing and less than a million."))
    if BANK_DATA.search(what):
        raise Refused(_s("That looks like an account or card number. It is not kept here."))
    currency = loan.horn.school.currency
    made = Charge.objects.create(
        loan=loan, what=what, amount=amount, currency=currency, due_on=due_on, made_at=at, made_by=by
    )
    record_of(loan, deed=Deed.CHARGED, by=by, at=at, told=[["charge", str(made)]])
    return made


@transaction.atomic
def settle(*, charge: Charge, state: str, by: User, at: datetime) -> Charge:
    """The charge is paid or remitted. Raises Refused when it was settled before."""
    charge = Charge.objects.select_for_update(of=("self",)).select_related("settled_by").get(pk=charge.pk)
    if charge.state != Charge.State.DUE and charge.settled_on is not None:
        raise Refused(
            _s("It was %(state)s on %(settled_on)s, recorded by %(settled_by)s.")
            % {"state": charge.state, "settled_on": day(charge.settled_on), "settled_by": charge.settled_by}
        )
    if state not in {Charge.State.PAID, Charge.State.REMITTED}:
        raise Refused(_s("Say whether it was paid or remitted."))
    charge.state, charge.settled_on, charge.settled_by = state, timezone.localdate(at), by
    charge.save(update_fields=["state", "settled_on", "settled_by"])
    told = [["charge", str(charge)], ["state", Charge.State.DUE.label, worded(charge, "state")]]
    record_of(charge.loan, deed=Deed.CHARGE_SETTLED, by=by, at=at, told=told)
    return charge
