"""Every kind of list that comes in, by its key."""

from __future__ import annotations

from fleet.exchange.actions.lists.base import ListKind


def kind_of(key: str) -> ListKind:
    from fleet.exchange.actions.lists.horns import HORNS
    from fleet.exchange.actions.lists.past_loans import PAST_LOANS
    from fleet.exchange.actions.lists.pupils import PUPILS
    from fleet.exchange.actions.lists.running_loans import RUNNING_LOANS

    return {kind.key: kind for kind in (HORNS, PUPILS, RUNNING_LOANS, PAST_LOANS)}[key]
