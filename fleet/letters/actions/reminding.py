"""Planning letters and sending them: each once, none lost while the mail server is away.

A letter goes through three moments: it is claimed in a transaction that holds the horn's row and reads the due
date again; it goes out while no lock is held, since a slow mail server must not stop the site; what became of it
is written. When the machine dies between the last two, nobody knows whether it arrived: it is then shown to staff
and never sent again by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import kept_in_english
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.letters.models import Letter
from fleet.letters.models.rules import TO_SIGN
from fleet.letters.queries.composing import composed
from fleet.letters.queries.due import due_letters, unwritten, written
from fleet.letters.queries.rules import rules_of
from fleet.mail.actions import server as mail
from fleet.mail.actions.errands import beside, ends, going_on
from fleet.mail.queries import has_server
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import in_english
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.waiting import can_be_signed

State = Letter.State
STOPPED = _s_lazy("The machine stopped while it was being sent.")
NEWER = _s_lazy("A newer letter takes its place.")
# Longer than the mail server may take; what has been going for so long belongs to a run that died.
DIED_AFTER = timedelta(hours=1)


@dataclass
class RunTold:
    """What a run did, for the command to say."""

    counts: dict[str, int] = field(default_factory=dict)
    server_trouble: str = ""

    def add(self, state: str) -> None:
        self.counts[state] = self.counts.get(state, 0) + 1

    @property
    def in_words(self) -> list[tuple[str, str]]:
        """(what became of it, how many)"""
        return [(str(State(state).label), str(count)) for state, count in sorted(self.counts.items())]


def send_now(*, school: School, by: User, at: datetime) -> int:
    """`remind` for one school, begun at the press of a button beside the page, which waits for no mail server; how many
    go. Refused where the site has no mail server. A letter that another run is sending is left to it."""
    if not has_server():
        raise Refused(_s("This site has no mail server, so nothing was sent. Whoever runs it can name one."))
    plan(school, at)
    count = Letter.objects.at(school).filter(state=State.WAITING).exclude(guardian__email="").count()
    record(deed=Deed.LETTERS_SENT, school=school, by=by, at=at, told=[["go out", str(count)]])
    transaction.on_commit(lambda: beside(f"letters of school {school.pk}", lambda: remind(schools=[school], now=at)))
    return count


def remind(*, schools: list[School], now: datetime, server: mail.Server | None = None) -> RunTold:
    """Plan the letters of today and send all that wait, by this server or the site's own. Safe to run at any time, as
    often as one likes."""
    told = RunTold()
    Letter.objects.filter(state=State.GOING, claimed_at__lt=now - DIED_AFTER).update(
        state=State.UNSURE, trouble=in_english(STOPPED)
    )
    for school in schools:
        with timezone.override(school.zone):
            plan(school, now)
    waiting = Letter.objects.filter(state=State.WAITING, guardian__school__in=schools)
    # Last what was tried last: a letter over which the server always hangs up keeps no other waiting.
    keys = list(waiting.order_by(F("claimed_at").asc(nulls_first=True), "pk").values_list("pk", flat=True))
    server, clock = server or mail.Server(), going_on(now)
    try:
        for key in keys:
            if ends():
                break
            state = _deliver(key, server, now, begun=clock())
            if state:
                told.add(state)
    except mail.Away as trouble:
        told.server_trouble = str(trouble)
    finally:
        server.close()
    return told


def plan(school: School, now: datetime) -> list[Letter]:
    """Makes the rows of letters that have become due, and takes up again those whose guardian has a new address."""
    rules, today = rules_of(school), timezone.localdate(now)
    if not rules.reminds:
        return []
    for letter in Letter.objects.at(school).undelivered().filter(occasion=TO_SIGN).select_related("guardian"):
        _take_up_again(letter, letter.guardian.email)
    made = []
    for loan, occasion in due_letters(school, rules, today):
        known = written(loan, occasion)
        if known is not None:
            _take_up_again(known, loan.guardian.email)
            continue
        row = _wanted(now, occasion=occasion, due_on=loan.due_on, guardian=loan.guardian, loan=loan)
        if row is not None:
            made.append(row)
            older = Letter.objects.filter(loan=loan, state=State.WAITING).exclude(pk=row.pk)
            older.update(state=State.DROPPED, trouble=in_english(NEWER))
    return made + _to_sign(school, now)


def _to_sign(school: School, now: datetime) -> list[Letter]:
    """Letters that an agreement waits on a family's page, one for each."""
    rows = [
        _wanted(now, occasion=TO_SIGN, due_on=one.due_on, guardian=one.guardian, signature=one)
        for one in unwritten(school, timezone.localdate(now))
    ]
    return [row for row in rows if row is not None]


def _take_up_again(letter: Letter, address: str) -> None:
    """A letter that did not arrive goes again once its guardian has a new address."""
    if letter.state in {State.REFUSED, State.BOUNCED, State.NO_ADDRESS} and address not in {"", letter.address}:
        Letter.objects.filter(pk=letter.pk, state=letter.state).update(state=State.WAITING, trouble="")


def _wanted(now: datetime, **said: Any) -> Letter | None:
    """A waiting letter; None when another run made it in the same moment."""
    try:
        with transaction.atomic():
            return Letter.objects.create(school_id=said["guardian"].school_id, made_at=now, **said)
    except IntegrityError:
        return None


def send_again(*, letter: Letter, by: User, at: datetime) -> bool:
    """Puts a letter that did not arrive back into the queue. False when somebody did so already.

    The state is asked again in the same statement: two who click at once put it back once.
    """
    failed = Letter.objects.filter(pk=letter.pk, state__in=Letter.FAILED)
    return bool(failed.update(state=State.WAITING, trouble=""))


def _deliver(key: int, server: mail.Server, now: datetime, begun: datetime) -> str:
    """Takes one letter through; its new state, "" when another run has it. Raises mail.Away."""
    letter = _claim(key, now, begun)
    if letter is None or letter.state != State.GOING:
        return letter.state if letter else ""
    try:
        server.send(letter.address, letter.subject, letter.words, name=f"letter-{letter.pk}-{letter.tries}")
    except mail.Refusal as no:
        _settle(letter, State.REFUSED, str(no))
    except (mail.NotNow, mail.Away) as no:
        # It was not handed over, and goes under the same Message-ID.
        letter.tries -= 1
        _settle(letter, State.WAITING, str(no))
        if isinstance(no, mail.Away):
            raise
    except mail.Unsure as no:
        _settle(letter, State.UNSURE, str(no))
        raise mail.Away(str(no)) from no
    else:
        letter.sent_at = now
        _settle(letter, State.SENT, "")
    return letter.state


@transaction.atomic
def _claim(key: int, now: datetime, begun: datetime) -> Letter | None:
    """The letter, composed and marked as going; or settled at once, where there is nothing to send any more."""
    Horn.objects.select_for_update(no_key=True).get(pk=_horn_of(key))
    letter = Letter.objects.select_for_update(of=("self",)).select_related("guardian").get(pk=key)
    if letter.state != State.WAITING:
        return None
    letter.claimed_at, letter.address = begun, letter.guardian.email
    # Read again now that the horn's row is held: nobody can move or end it before the letter is marked as going.
    kind: Any = Loan if letter.loan_id else OnlineSignature
    about = kind.objects.select_related("horn__school", "pupil", "guardian__school").get(pk=letter.about.pk)
    needless = _needless(letter, about)
    if not needless and isinstance(about, OnlineSignature) and not can_be_signed(about, timezone.localdate(now)):
        # It waits until the horn can be lent, or the school asks anew or takes it back.
        return None
    if needless:
        letter.state, letter.trouble = State.DROPPED, needless
    elif not letter.address:
        letter.state, letter.trouble = State.NO_ADDRESS, ""
    else:
        letter.state, letter.tries = State.GOING, letter.tries + 1
        with timezone.override(about.guardian.school.zone):
            letter.subject, letter.words = composed(about, letter.occasion, timezone.localdate(now))
    letter.save(update_fields=["claimed_at", "address", "state", "trouble", "tries", "subject", "words"])
    return letter


def _horn_of(key: int) -> int:
    return next(filter(None, Letter.objects.values_list("loan__horn_id", "signature__horn_id").get(pk=key)))


@kept_in_english()
def _needless(letter: Letter, about: Loan | OnlineSignature) -> str:
    """Why the letter need not go any more, "" while it must."""
    if isinstance(about, OnlineSignature):
        if about.signed_at is not None:
            return _s("It is signed.")
        return _s("The school took it back.") if about.withdrawn_at is not None else ""
    if not about.is_open:
        return _s("The horn is back.")
    if about.horn.noted_back:
        return _s("The horn is noted as back.")
    return _s("The due date moved.") if about.due_on != letter.due_on else ""


@transaction.atomic
def _settle(letter: Letter, state: str, trouble: str) -> None:
    """Writes what became of it. A due date that moved while it was on its way makes a letter that says so."""
    Horn.objects.select_for_update(no_key=True).get(pk=_horn_of(letter.pk))
    letter.state, letter.trouble = state, trouble[:300]
    letter.save(update_fields=["state", "trouble", "sent_at", "tries"])
    if letter.loan_id is None:
        return
    loan = Loan.objects.select_related("guardian").get(pk=letter.loan_id)
    if state in {State.SENT, State.UNSURE} and loan.is_open and loan.due_on != letter.due_on:
        Letter.objects.get_or_create(
            loan=loan,
            occasion="moved",
            due_on=loan.due_on,
            defaults={
                "school_id": loan.guardian.school_id,
                "guardian": loan.guardian,
                "made_at": letter.claimed_at or letter.made_at,
            },
        )
