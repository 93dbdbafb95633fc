"""Out of the queue: each letter once, none lost while the mail server is away, none kept once it went.

As with letters to guardians: claimed in a statement of its own, handed over while nothing is held, then settled. What a
process died over may have arrived, and is never sent again by itself.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F
from django.utils import timezone

from fleet.mail.actions.errands import beside, ends, going_on
from fleet.mail.actions.server import Away, NotNow, Refusal, Server, Unsure
from fleet.mail.models import Outgoing, mark_of

LOG = logging.getLogger("fleet.mail")
State = Outgoing.State
WAITS_AGAIN = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=1)
# Longer than a server may take over all its answers.
DIED_AFTER = timedelta(minutes=15)
# How long what did not go stands there, without address and words, for whoever runs the site to hear of.
REMEMBERED = timedelta(days=14)


@dataclass
class Posted:
    """What a run did, for the command to say."""

    sent: int = 0
    given_up: int = 0
    trouble: str = ""


def post(*, at: datetime, server: Server | None = None) -> Posted:
    """Sends what is due, by this server or the site's own. Safe to run at any time, by as many as like to."""
    told = Posted()
    Outgoing.objects.filter(state=State.GOING, claimed_at__lt=at - DIED_AFTER).update(**_given_up(State.UNSURE))
    Outgoing.objects.exclude(state__in=[State.WAITING, State.GOING]).filter(queued_at__lt=at - REMEMBERED).delete()
    waiting = Outgoing.objects.filter(state=State.WAITING)
    told.given_up = waiting.filter(good_until__lt=at).update(**_given_up(State.LATE))
    # What was tried least comes first: a letter over which the server always hangs up keeps no other waiting.
    due = waiting.filter(next_at__lte=at).order_by("tries", "pk")
    keys = list(due.values_list("pk", flat=True))
    if not keys:
        return told
    server, now = server or Server(), going_on(at)
    try:
        # Before any is claimed: while the server is away, none is touched.
        server.reach()
        for key in keys:
            if ends():
                break
            _hand_over(key, server, now(), told)
    except Away as trouble:
        told.trouble = str(trouble)
        due.update(next_at=at + WAITS_AGAIN)
    finally:
        server.close()
    return told


def _hand_over(key: int, server: Server, at: datetime, told: Posted) -> None:
    """Raises Away."""
    mine = Outgoing.objects.filter(pk=key, state=State.WAITING)
    if not mine.update(state=State.GOING, claimed_at=at, tries=F("tries") + 1):
        return
    letter = Outgoing.objects.get(pk=key)
    mine = Outgoing.objects.filter(pk=key, state=State.GOING)
    try:
        paper = (letter.paper_name, bytes(letter.paper)) if letter.paper is not None else None
        said = (letter.address, letter.subject, letter.words)
        server.send(*said, name=letter.name, paper=paper, answers_to=letter.answers_to)
    except Refusal as no:
        mine.update(was_for=mark_of(letter.address))
        _refused(mine, State.REFUSED, no, told)
    except NotNow:
        wait = min(WAITS_AGAIN * 2 ** min(letter.tries - 1, 10), LONGEST_WAIT)
        mine.update(state=State.WAITING, next_at=at + wait)
    except Away:
        mine.update(state=State.WAITING, next_at=at + WAITS_AGAIN)
        raise
    except Unsure as no:
        _refused(mine, State.UNSURE, no, told)
        raise Away(str(no)) from no
    else:
        mine.delete()
        told.sent += 1


def _refused(mine: object, state: State, why: Exception, told: Posted) -> None:
    mine.update(**_given_up(state))  # type: ignore[attr-defined]
    told.given_up += 1
    # Its first word is a number or a kind of trouble; the rest may name the address.
    LOG.warning("A letter of the queue: %s (%s)", state.label, str(why).split(" ")[0].rstrip(":"))


def _given_up(state: State) -> dict[str, str | None]:
    return {
        "state": state,
        "address": "",
        "subject": "",
        "words": "",
        "answers_to": "",
        "paper": None,
        "paper_name": "",
    }


def post_soon() -> None:
    """At once, beside the page that queued it."""
    beside("mail", lambda: post(at=timezone.now()))
