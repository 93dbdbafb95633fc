"""Piles of tasks, each one click from being done: what they hold and how they are found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Case, Exists, Expression, QuerySet, When
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.counting.models import Count
from fleet.ground.due import DueDay
from fleet.ground.paging import COUNTED_TO, in_words
from fleet.ground.wording import day as day_in_words
from fleet.lending.models import Loan, LoanQuerySet, Wish
from fleet.lending.queries.wishes import first_offers, sorts_ready
from fleet.letters.models import Letter
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed
from fleet.signing.queries.awaited import address_of, awaited, batches_out, sheets_by_class, with_those_out

# A pile shows this many tasks; of more only the first few, and that there are so many, one click away in their list.
SHOWN = 6
ASKED_FOR = SHOWN + 1
FIRST = 3
# So many days before its end the next school year can be begun in peace.
YEAR_ENDS_WITHIN = 14
# What was mended longer ago than this is no longer asked about.
APPROVED_WITHIN = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Task:
    what: str
    address: str
    why: str = ""
    when: date | None = None
    late: bool = False


@dataclass(frozen=True, slots=True)
class Pile:
    title: str
    tasks: list[Task]
    everything: str = ""
    # Of what sort of thing owed it is, "" for a pile of something else.
    code: str = ""
    # How many there are in all, where that was counted, to one more than 1,000, and the list shows just these.
    total: int = 0

    @property
    def shown(self) -> list[Task]:
        return self.tasks[: FIRST if self.has_more else SHOWN]

    @property
    def has_more(self) -> bool:
        return len(self.tasks) > SHOWN

    @property
    def many(self) -> str:
        """How many there are, as far as that was counted."""
        unsaid = _s("more than %(shown)s") % {"shown": SHOWN} if self.has_more else str(len(self.tasks))
        return in_words(self.total) or unsaid

    @property
    def in_all(self) -> str:
        """How many there are, "" where they were not counted to the end."""
        return in_words(self.total) if self.total <= COUNTED_TO else ""

    @property
    def late(self) -> bool:
        return any(task.late for task in self.tasks)


@dataclass(slots=True)
class Day:
    """Whose day it is and when: what every pile is made from. `piles` finds whether the school ever lent a horn."""

    seat: Seat
    now: datetime
    has_lent: bool = False

    @property
    def today(self) -> date:
        return timezone.localdate(self.now)


@dataclass(frozen=True, slots=True)
class MadeOf:
    """What a pile is made of: rows, how many there are in all where that is told, and what else was asked."""

    rows: list[Any] = field(default_factory=list)
    total: int = 0
    told: Any = None


@dataclass(frozen=True, slots=True)
class Waits:
    """What may wait for somebody: its pile, made of the first rows of a queryset, `most` of them, in their order and
    with what they fetch along. One `counted` tells how many there are. `asks` is what else it has to know, and has no
    rows. Both are asked for by nothing but school and day, so that the question can be kept."""

    pile: Callable[[Day, MadeOf], Pile]
    rows: Callable[[School, date], QuerySet[Any]] | None = None
    most: int | None = ASKED_FOR
    counted: bool = False
    asks: Callable[[School, date], Expression] | None = None


def made_of(
    rows: Callable[[School, date], QuerySet[Any]] | None = None, **more: Any
) -> Callable[[Callable[[Day, MadeOf], Pile]], Waits]:
    """Says of a pile what it is made of (`Waits`)."""
    return lambda pile: Waits(pile, rows, **more)


def owed(code: str) -> Callable[[School, date], QuerySet[Any]]:
    """The rows that say one sort of thing owed."""
    return lambda school, today: owings()[code].rows(school, today)


def of_owing(code: str) -> Waits:
    """The pile of one sort of thing owed, as the reader tells it."""
    owing = owings()[code]

    def pile(day: Day, found: MadeOf) -> Pile:
        tasks = [_task(day, owing.said(row, day.today)) for row in found.rows]
        page, query = owing.everything or ("", "")
        everything = f"{day.seat.here(page)}{'?' if query else ''}{query}" if page else ""
        return Pile(owing.title, tasks, everything, code, found.total)

    return Waits(pile, owed(code), counted=not owing.among_others)


def _task(day: Day, owed: Owed) -> Task:
    return Task(owed.what, owed.address(day.seat), owed.why, owed.since, owed.late)


def _soon(school: School, today: date) -> LoanQuerySet:
    """Loans that end soon by themselves: what was called back, or went with a leaver, has a pile of its own."""
    loans = Loan.objects.at(school).due_soon(today, school.soon_days).select_related("horn", "pupil")
    for code in ("recall", "leaver"):
        loans = loans.exclude(horn__in=owings()[code].horns(school, today))
    return loans.order_by("due_on", "pk")


@made_of(_soon)
def due_soon(day: Day, found: MadeOf) -> Pile:
    tasks = [
        Task(
            what=f"{loan.horn.number}, {loan.pupil.name}",
            address=day.seat.here("loans:loan", loan.pk),
            why=DueDay(loan.due_on, day.today).words,
            when=loan.due_on,
        )
        for loan in found.rows
    ]
    # The list shows those of the other piles too, so it says no number.
    return Pile(_s("Due soon"), tasks, day.seat.here("loans:loans") + "?state=soon")


@made_of(owed("signature"), most=None)
def to_hand_out(day: Day, found: MadeOf) -> Pile:
    """Agreements on families' pages: who has signed gets the horn next. What would not be lent like that any more
    stands by itself, with why."""
    owing = owings()["signature"]
    tasks = [_task(day, owing.said(one, day.today)) for one in found.rows if not one.stands]
    for one in awaited(day.seat.school, [one for one in found.rows if one.stands]):
        first, total, signed = one.signatures[0], len(one.signatures), len(one.signed)
        what = (
            f"{first.horn.number}, {first.pupil.name}"
            if total == 1
            else _s("%(total)s horns, due %(due_on)s") % {"total": total, "due_on": day_in_words(first.due_on)}
        )
        said = _s("signed: hand it out") if total == signed == 1 else _s("not signed yet")
        why = (
            said
            if total == 1
            else _s("%(signed)s signed, %(unsigned)s not yet") % {"signed": signed, "unsigned": total - signed}
        )
        tasks.append(Task(what=what, address=one.address, why=why))
    return Pile(_s("Agreements to be signed"), tasks)


@made_of(lambda school, _: with_those_out(school), most=None)
def sheets_out(day: Day, found: MadeOf) -> Pile:
    """Sheets that families have to sign: those printed together as one line, which says how many are in and leads to
    all of them; of those printed one by one those of a class, with where all of them are issued."""
    owing, school, tasks, alone = owings()["sheet"], day.seat.school, [], []
    for batch in batches_out(found.rows):
        if len(batch.sheets) == 1:
            alone += batch.out
            continue
        first = batch.out[0]
        tasks.append(
            Task(
                what=batch.in_words,
                address=day.seat.here("loans:sheets-together", first.pk),
                why=_s("to be signed, horns due %(due_on)s") % {"due_on": day_in_words(first.due_on)},
                when=timezone.localdate(first.printed_at),
                late=any(one.is_late(day.today) for one in batch.out),
            )
        )
    for rows in sheets_by_class(alone):
        if len(rows) == 1:
            tasks.append(_task(day, owing.said(rows[0], day.today)))
            continue
        first = rows[0]
        what = _s("%(many)s sheets are with the families")
        if first.pupil.group:
            what = _s("%(many)s sheets of %(group)s are with the families")
        tasks.append(
            Task(
                what=what % {"many": len(rows), "group": first.pupil.group},
                address=address_of(school, rows),
                why=_s("to be signed, horns due %(due_on)s") % {"due_on": day_in_words(first.due_on)},
                when=timezone.localdate(first.printed_at),
                late=any(one.is_late(day.today) for one in rows),
            )
        )
    page, query = owing.everything or ("", "")
    return Pile(owing.title, tasks, f"{day.seat.here(page)}?{query}")


def _ready(school: School, today: date) -> Expression:
    """Which sorts of horns are ready, where anybody waits."""
    return Case(When(Exists(Wish.objects.at(school).waiting(today)), then=sorts_ready(school, today)))


@made_of(asks=_ready)
def waited_for(day: Day, found: MadeOf) -> Pile:
    """Pupils who wait for a horn that is ready now, who came first in front. Two queries, none where nothing is."""
    school, today = day.seat.school, day.today
    offered = first_offers(school, today, found.told, ASKED_FOR) if found.told else []
    issue = day.seat.here("loans:issue")
    tasks = [
        Task(
            what=_s("%(number)s: %(pupil)s waits for such a horn")
            % {"number": one.ready[0].number, "pupil": one.wish.pupil.name},
            address=f"{issue}?horn={one.ready[0].pk}&pupil={one.wish.pupil_id}",
            why=_s("%(what)s, and %(one)s more that would do") % {"what": one.wish.what, "one": in_words(one.many - 1)}
            if one.many > 1
            else one.wish.what,
            when=one.wish.since,
        )
        for one in offered
    ]
    return Pile(_s("Somebody waits for a horn that is ready"), tasks, day.seat.here("loans:wishes"))


def _undelivered(school: School, today: date) -> QuerySet[Letter]:
    letters = Letter.objects.at(school).undelivered().order_by("due_on", "pk")
    return letters.select_related("loan__horn", "signature__horn", "guardian")


@made_of(_undelivered, counted=True)
def undelivered(day: Day, found: MadeOf) -> Pile:
    """Letters that did not reach a guardian: a bounce, no address, or a connection that broke half way."""
    tasks = [
        Task(
            what=_s("%(number)s: %(guardian)s was not reached")
            % {"number": letter.about.horn.number, "guardian": letter.guardian.name},
            address=day.seat.here("loans:letter", letter.pk),
            why=letter.get_state_display(),
            when=letter.on.date(),
        )
        for letter in found.rows
    ]
    everything = day.seat.here("loans:letters") + "?state=undelivered"
    return Pile(_s("Letters that did not arrive"), tasks, everything, total=found.total)


def _unsigned(school: School, today: date) -> QuerySet[Count]:
    return Count.objects.at(school).unsigned().order_by("started_at", "pk")


@made_of(_unsigned)
def counts(day: Day, found: MadeOf) -> Pile:
    """Counts that are not signed yet; one left open for a month is late, since its list has grown old."""
    tasks = [
        Task(
            what=count.in_words,
            address=day.seat.here("counting:count", count.pk),
            why=_s("open for %(days)s days: end it, its list grows old") % {"days": days} if late else count.state,
            when=timezone.localdate(count.started_at),
            late=late,
        )
        for count in found.rows
        for days in [count.days_open(day.today)]
        for late in [count.has_grown_old(day.today)]
    ]
    return Pile(_s("Counts"), tasks, day.seat.here("counting:counts"))
