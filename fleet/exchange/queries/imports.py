"""How far an import is: its rows counted by verdict, and whether it can still be undone."""

from __future__ import annotations

from django.db.models import Sum

from fleet.exchange.models import Import

State = Import.State


def totals(imported: Import) -> dict[str, int]:
    """How many rows are, or before the writing would be, new, changed, the same, refused; and how many of those that
    come in are `noted`: with a cell left empty."""
    batches = imported.batches.all()
    if imported.state in {State.CHECKING, State.CHECKED}:
        batches = batches.filter(written=False)
    sums = batches.aggregate(**{name: Sum(name) for name in ("new", "changed", "same", "refused", "noted")})
    return {name: number or 0 for name, number in sums.items()}


def may_undo(imported: Import) -> bool:
    """Whether this is the school's last import and something of it is on record."""
    newer = Import.objects.at(imported.school).filter(batches__written=True, pk__gt=imported.pk)
    return imported.state != State.UNDONE and imported.batches.filter(written=True).exists() and not newer.exists()
