"""How every loan begins, inside the transaction of the action that begins it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleet.lending.models import Loan, LoanAccessory
from fleet.people.models import User
from fleet.register.models import Horn
from fleet.workshop.models import ConditionCheck

MOST_ACCESSORIES = 16


def begin(loan: Loan, *, horn: Horn, check: ConditionCheck, accessories: Sequence[str], by: User, on: date) -> None:
    """What begins every loan, inside its action's transaction: its row and what goes along. The action keeps the horn
    afterwards."""
    loan.horn, loan.check_at_issue, loan.stands_in = horn, check, horn.stands_in
    loan.issued_on, loan.issued_by = on, by
    loan.save(force_insert=True)
    LoanAccessory.objects.bulk_create(LoanAccessory(loan=loan, name=name) for name in accessories)


def once_each(names: Sequence[str]) -> list[str]:
    """Names without blanks around them, none twice whatever its capitals, in their order."""
    return list({name.strip().casefold(): name.strip() for name in names if name.strip()}.values())
