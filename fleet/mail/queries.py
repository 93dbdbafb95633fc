"""Whether there is a mail server, and what waits for it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import QuerySet

from fleet.mail.models import Outgoing, mark_of

QUEUE = "fleet.mail.actions.queueing.Queue"
# A server that asks to be tried again (greylisting) means minutes; longer is trouble.
USUAL = timedelta(minutes=15)


def has_server() -> bool:
    """Whether the site has a mail server to send by."""
    return bool(settings.EMAIL_BACKEND == QUEUE)


def lying(at: datetime) -> int:
    """How many letters have waited longer than is usual."""
    return Outgoing.objects.filter(state=Outgoing.State.WAITING, queued_at__lt=at - USUAL).count()


def refusals() -> QuerySet[Outgoing]:
    """Letters that the mail server refused in these days."""
    return Outgoing.objects.filter(state=Outgoing.State.REFUSED)


def refused(addresses: Iterable[str], was_for: Iterable[str] | None = None) -> set[str]:
    """Those of the addresses at which the mail server refused a letter in these days; asked for only if it did any.
    One query, none where it is known whom those letters were for."""
    marks = set(refusals().values_list("was_for", flat=True) if was_for is None else was_for) - {""}
    return {one for one in addresses if mark_of(one) in marks} if marks else set()


def gone_wrong() -> dict[str, int]:
    """How many did not arrive for certain in these days, by what became of them."""
    given_up = (Outgoing.State.REFUSED, Outgoing.State.UNSURE, Outgoing.State.LATE)
    counts = {state.label: Outgoing.objects.filter(state=state).count() for state in given_up}
    return {state: count for state, count in counts.items() if count}
