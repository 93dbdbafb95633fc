"""Into the queue: Django's own way to send mail ends here, so that whoever sends waits for no server."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import timedelta
from typing import Any

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.utils import timezone

from fleet.mail.actions.posting import post_soon
from fleet.mail.models import Outgoing

# What a letter is good for that does not say so itself; whoever sends a code names its minutes (`good_for`).
# A mail server is asked for four to five days before a letter is given up (RFC 5321, 4.5.4.1).
GOOD_FOR = timedelta(days=5)


def _paper(letter: EmailMessage) -> dict[str, Any]:
    """The PDF that goes with a letter, as its row keeps it: the first that was attached to it."""
    for name, content, _ in letter.attachments[:1]:
        return {"paper": content, "paper_name": str(name)[:120]}
    return {}


class Queue(BaseEmailBackend):
    """Keeps what is sent, for each address by itself, and has it sent once the transaction is through."""

    def send_messages(self, letters: Sequence[EmailMessage]) -> int:
        at = timezone.now()
        rows = [
            Outgoing(
                name=uuid.uuid4().hex,
                address=address,
                # A name that holds a line end would begin a header of its own.
                subject=" ".join(str(letter.subject).split())[:200],
                words=str(letter.body),
                answers_to=next(iter(letter.reply_to), ""),
                **_paper(letter),
                queued_at=at,
                next_at=at,
                good_until=at + getattr(letter, "good_for", GOOD_FOR),
            )
            for letter in letters
            for address in letter.recipients()
        ]
        Outgoing.objects.bulk_create(rows)
        # What it is about is done by then: where no thread can begin, the next run sends it.
        transaction.on_commit(post_soon, robust=True)
        return len(letters)


def let_go(*, addresses: Collection[str]) -> None:
    """What waits for those who are forgotten goes nowhere. What names them to others is out within days."""
    for address in filter(None, addresses):
        Outgoing.objects.filter(address__iexact=address).delete()
