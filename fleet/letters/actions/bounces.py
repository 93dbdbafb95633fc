"""Letters that came back after a mail server had taken them: delivery status notifications (RFC 3464).

Anybody may send such a message, so it can do no more than put a letter on the list of those that did not arrive.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from email import message_from_bytes, message_from_string
from email.message import Message

from django.db import transaction

from fleet.ground.languages.marks import _s_lazy
from fleet.letters.models import Letter
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import in_english

State = Letter.State
NO_REASON = _s_lazy("The report gives no reason.")
# As `mail.Server` writes it: the letter's key and how often it was handed over.
OURS = re.compile(r"<letter-(\d{1,15})-(\d{1,5})@")
# Reports come within days (RFC 5321, 4.5.4.1: a server gives up after four to five); with a margin.
COMES_WITHIN = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Failure:
    """A recipient who was not reached, why, and the Message-ID of what was sent, "" where the report lacks it."""

    address: str
    why: str
    message_id: str


def failures(raw: bytes) -> list[Failure]:
    """The recipients a report says were not reached; none for delays, for successes, and for any other mail."""
    message = message_from_bytes(raw)
    if message.get_content_type() != "multipart/report":
        return []
    parts = list(message.walk())
    message_id = next(filter(None, map(_returned_id, parts)), "")
    found = []
    for part in parts:
        if part.get_content_type() == "message/delivery-status":
            found += [Failure(_address(one), _why(one), message_id) for one in _recipients(part)]
    return found


def take(*, raw: bytes, at: datetime) -> list[Letter]:
    """Marks the letters that a report says came back. The same report again marks none."""
    marked = []
    for failure in failures(raw):
        letter = _letter(failure, at)
        if letter is not None and came_back(letter=letter, why=failure.why, by=None, at=at):
            marked.append(letter)
    return marked


@transaction.atomic
def came_back(*, letter: Letter, why: str, by: User | None, at: datetime) -> bool:
    """A letter taken for sent did not arrive. False when it is no such letter any more."""
    sent = Letter.objects.filter(pk=letter.pk, state__in=[State.SENT, State.UNSURE])
    if not sent.update(state=State.BOUNCED, trouble=why[:300]):
        return False
    to, told = letter.guardian, [["why", why[:300]]]
    record(deed=Deed.LETTER_CAME_BACK, school=to.school, by=by, at=at, guardian=to, told=told)
    return True


def _letter(failure: Failure, now: datetime) -> Letter | None:
    """By its Message-ID; where the report does not return it, the newest letter to that address."""
    ours = OURS.search(failure.message_id)
    if ours is not None:
        return Letter.objects.filter(pk=int(ours[1]), tries=int(ours[2])).first()
    if failure.message_id or not failure.address:
        return None
    newest = Letter.objects.filter(address__iexact=failure.address, sent_at__gte=now - COMES_WITHIN)
    return newest.order_by("-sent_at", "-pk").first()


def _recipients(part: Message) -> Iterator[Message]:
    """The fields of each recipient that failed; the first block is about the message as a whole."""
    blocks = part.get_payload()
    for block in blocks if isinstance(blocks, list) else []:
        if isinstance(block, Message) and _field(block, "Action").casefold() == "failed":
            yield block


def _address(block: Message) -> str:
    """Whom it was written to, which after a forwarding is not whom it failed for."""
    said = _field(block, "Original-Recipient") or _field(block, "Final-Recipient")
    return said.rpartition(";")[2].strip().strip("<>")


def _why(block: Message) -> str:
    said = _field(block, "Diagnostic-Code").partition(";")[2].strip()
    return " ".join(filter(None, (_field(block, "Status"), said))) or in_english(NO_REASON)


def _returned_id(part: Message) -> str:
    """The Message-ID of the letter that a report returns, whole or only its head."""
    if part.get_content_type() in {"message/rfc822", "message/rfc822-headers"}:
        inner = part.get_payload()
        return _field(inner[0], "Message-ID") if isinstance(inner, list) and isinstance(inner[0], Message) else ""
    if part.get_content_type() == "text/rfc822-headers":
        head = part.get_payload(decode=True)
        return (
            _field(message_from_string(head.decode("utf-8", "replace")), "Message-ID")
            if isinstance(head, bytes)
            else ""
        )
    return ""


def _field(block: Message, name: str) -> str:
    return " ".join(str(block.get(name, "")).split())
