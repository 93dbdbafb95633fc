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
    """What begins every loan, inside its action's transaction: its row, what goes along, the horn in their hands."""
    loan.horn, loan.check_at_issue, loan.stands_in = horn, check, horn.stands_in
    loan.issued_on, loan.issued_by = on, by
    loan.save(force_insert=True)
    LoanAccessory.objects.bulk_create(LoanAccessory(loan=loan, name=name) for name in accessories)
    horn.holder_name, horn.due_on = loan.pupil.name, loan.due_on
    horn.save(update_fields=["holder_name", "due_on"])


def once_each(names: Sequence[str]) -> list[str]:
    """Names without blanks around them, none twice whatever its capitals, in their order."""
    return list({name.strip().casefold(): name.strip() for name in names if name.strip()}.values())
