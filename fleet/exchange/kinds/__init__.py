"""The kinds of list that come in, each in a module: its columns, what a row means, how rows are written and undone."""

from __future__ import annotations

from fleet.exchange.kinds.base import ListKind


def kind_of(key: str) -> ListKind:
    from fleet.exchange.kinds.horns import HORNS
    from fleet.exchange.kinds.past_loans import PAST_LOANS
    from fleet.exchange.kinds.pupils import PUPILS

    return {kind.key: kind for kind in (HORNS, PUPILS, PAST_LOANS)}[key]
