"""Piles of tasks, each one click from being done: what they hold and how they are found. One query a pile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from fleet.counting.models import Count
from fleet.exchange.models import Closing
from fleet.ground.badges import money
from fleet.ground.due import DueDay
from fleet.ground.wording import day as day_in_words
from fleet.lending.models import Loan, Wish
from fleet.lending.queries.wishes import offers
from fleet.letters.models import Letter
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed
from fleet.signing.queries.awaited import address_of, awaited, batches_out, sheets_by_class
from fleet.workshop.models import RepairJob

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
    # How many there are in all, where that was counted and the list shows just these.
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
        return str(self.total or len(self.tasks)) if self.total or not self.has_more else f"more than {SHOWN}"

    @property
    def late(self) -> bool:
        return any(task.late for task in self.tasks)


@dataclass(frozen=True, slots=True)
class Day:
    """Whose day it is and when: what every pile is made from."""

    seat: Seat
    now: datetime

    @property
    def today(self) -> date:
        return timezone.localdate(self.now)


def first_of(rows: QuerySet[Any], *, counted: bool = True) -> tuple[list[Any], int]:
    """The first rows of a pile, and how many there are; counted only where they are more than a pile shows."""
    first = list(rows[:ASKED_FOR])
    if not counted:
        return first, 0
    return first, rows.count() if len(first) == ASKED_FOR else len(first)


def of_owing(code: str) -> Callable[[Day], Pile]:
    """The pile of one sort of thing owed, as the reader tells it."""
    owing = owings()[code]

    def pile(day: Day) -> Pile:
        school = day.seat.school
        found = owing.rows(Horn.objects.at(school), school, day.today)
        rows, total = first_of(found, counted=not owing.among_others)
        tasks = [_task(day, owing.said(row, day.today)) for row in rows]
        page, query = owing.everything or ("", "")
        everything = f"{day.seat.here(page)}{'?' if query else ''}{query}" if page else ""
        return Pile(owing.title, tasks, everything, code, total)

    return pile


def _task(day: Day, owed: Owed) -> Task:
    """Who may not do it reads about it on the horn's own page."""
    address = day.seat.way(owed.way) or day.seat.here("desk:horn", owed.horn)
    return Task(owed.what, address, owed.why, owed.since, owed.late)


def due_soon(day: Day) -> Pile:
    """Loans that end soon by themselves: what was called back, or went with a leaver, has a pile of its own."""
    school, horns = day.seat.school, Horn.objects.at(day.seat.school)
    loans = Loan.objects.at(school).due_soon(day.today, school.soon_days).select_related("horn", "pupil")
    for code in ("recall", "leaver"):
        loans = loans.exclude(horn__in=owings()[code].horns(horns, school, day.today))
    tasks = [
        Task(
            what=f"{loan.horn.number}, {loan.pupil.name}",
            address=day.seat.here("loans:loan", loan.pk),
            why=DueDay(loan.due_on, day.today).words,
            when=loan.due_on,
        )
        for loan in loans.order_by("due_on", "pk")[:ASKED_FOR]
    ]
    # The list shows those of the other piles too, so it says no number.
    return Pile("Due soon", tasks, day.seat.here("loans:loans") + "?state=soon")


def to_hand_out(day: Day) -> Pile:
    """Agreements on families' pages: who has signed gets the horn next."""
    tasks = []
    for one in awaited(day.seat.school):
        first, total, signed = one.signatures[0], len(one.signatures), len(one.signed)
        what = (
            f"{first.horn.number}, {first.pupil.name}"
            if total == 1
            else f"{total} horns, due {day_in_words(first.due_on)}"
        )
        said = "signed: hand it out" if total == signed == 1 else "not signed yet"
        why = said if total == 1 else f"{signed} signed, {total - signed} not yet"
        tasks.append(Task(what=what, address=one.address, why=why))
    return Pile("Agreements to be signed", tasks)


def sheets_out(day: Day) -> Pile:
    """Sheets that families have to sign: those printed together as one line, which says how many are in and leads to
    all of them; of those printed one by one those of a class, with where all of them are issued."""
    owing, school, tasks, alone = owings()["sheet"], day.seat.school, [], []
    for batch in batches_out(school):
        if len(batch.sheets) == 1:
            alone += batch.out
            continue
        first = batch.out[0]
        tasks.append(
            Task(
                what=batch.in_words,
                address=day.seat.here("loans:sheets-together", first.pk),
                why=f"to be signed, horns due {day_in_words(first.due_on)}",
                when=timezone.localdate(first.printed_at),
                late=any(one.is_late(day.today) for one in batch.out),
            )
        )
    for rows in sheets_by_class(alone):
        if len(rows) == 1:
            tasks.append(_task(day, owing.said(rows[0], day.today)))
            continue
        first = rows[0]
        of = f" of {first.pupil.group}" if first.pupil.group else ""
        tasks.append(
            Task(
                what=f"{len(rows)} sheets{of} are with the families",
                address=address_of(school, rows),
                why=f"to be signed, horns due {day_in_words(first.due_on)}",
                when=timezone.localdate(first.printed_at),
                late=any(one.is_late(day.today) for one in rows),
            )
        )
    page, query = owing.everything or ("", "")
    return Pile(owing.title, tasks, f"{day.seat.here(page)}?{query}")


def waited_for(day: Day) -> Pile:
    """Pupils who wait for a horn that is ready now, who came first in front."""
    school = day.seat.school
    offered = [one for one in offers(list(Wish.objects.at(school).waiting(day.today)), school, day.today) if one.ready]
    issue = day.seat.here("loans:issue")
    tasks = [
        Task(
            what=f"{one.ready[0].number}: {one.wish.pupil.name} waits for such a horn",
            address=f"{issue}?horn={one.ready[0].pk}&pupil={one.wish.pupil_id}",
            why=f"{one.wish.what}, and {one.many - 1} more that would do" if one.many > 1 else one.wish.what,
            when=one.wish.since,
        )
        for one in offered[:ASKED_FOR]
    ]
    return Pile("Somebody waits for a horn that is ready", tasks, day.seat.here("loans:wishes"))


def undelivered(day: Day) -> Pile:
    """Letters that did not reach a guardian: a bounce, no address, or a connection that broke half way."""
    related = ("loan__horn", "signature__horn", "guardian")
    letters = Letter.objects.at(day.seat.school).undelivered().select_related(*related)
    first, total = first_of(letters.order_by("due_on", "pk"))
    tasks = [
        Task(
            what=f"{letter.about.horn.number}: {letter.guardian.name} was not reached",
            address=day.seat.here("loans:letter", letter.pk),
            why=letter.get_state_display(),
            when=letter.due_on,
        )
        for letter in first
    ]
    everything = day.seat.here("loans:letters") + "?state=undelivered"
    return Pile("Letters that did not arrive", tasks, everything, total=total)


def counts(day: Day) -> Pile:
    """Counts that are not signed yet; one left open for a month is late, since its list has grown old."""
    found = Count.objects.at(day.seat.school).unsigned().order_by("started_at", "pk")
    tasks = [
        Task(
            what=count.title,
            address=day.seat.here("counting:count", count.pk),
            why=f"open for {days} days: end it, its list grows old" if late else count.state,
            when=timezone.localdate(count.started_at),
            late=late,
        )
        for count in found[:ASKED_FOR]
        for days in [count.days_open(day.today)]
        for late in [count.has_grown_old(day.today)]
    ]
    return Pile("Counts", tasks, day.seat.here("counting:counts"))


def closing(day: Day) -> Pile:
    """That the school is to leave the site: what another head proposed, and what can still be taken back."""
    school, address = day.seat.school, day.seat.here("exchange:closing")
    tasks = []
    for one in Closing.objects.filter(school=school).select_related("proposed_by"):
        if one.closes_from is not None:
            until = timezone.localtime(one.closes_from)
            why = f"two agreed: it can be taken back until {day_in_words(until.date())}, {until:%H:%M}"
            tasks.append(Task(f"{school} leaves this site", address, why, late=True))
        elif one.proposed_by_id != day.seat.user.pk:
            asked = timezone.localdate(one.proposed_at)
            tasks.append(Task(f"Close {school}?", address, f"{one.proposed_by} proposes it: {one.reason}", asked))
    return Pile("Closing the school", tasks)


def school_year(day: Day) -> Pile:
    """That the school year is over, or ends soon: until the next one is begun, which has another end."""
    ends = day.seat.school.year_ends
    if ends is None or not (due := DueDay(ends, day.today)).is_near(YEAR_ENDS_WITHIN):
        return Pile("The school year", [])
    why = f"this one {'ended' if due.is_over else 'ends'} on {day_in_words(ends)}: classes go on, loans are renewed"
    task = Task("Begin the next school year", day.seat.here("loans:new-year"), why, late=due.is_over)
    return Pile("The school year", [task])


def to_approve(day: Day) -> Pile:
    """Quotes and costs of repairs that wait for a head's word."""
    school = day.seat.school
    if school.approve_above is None:
        return Pile("Repairs to approve", [])
    # A limit set today is not held against what was mended long ago.
    lately = Q(closed_at=None) | Q(closed_at__gte=day.now - APPROVED_WITHIN)
    found = RepairJob.objects.at(school).to_approve(school.approve_above).filter(lately).select_related("horn")
    tasks = [
        Task(
            what=f"{job.horn.number}: {job.asks_with} of {money(job.asked, school.currency)}",
            address=day.seat.here("workshop:job", job.pk),
            why=job.repairer or job.get_state_display(),
            when=timezone.localdate(job.opened_at),
        )
        for job in found.order_by("opened_at", "pk")[:ASKED_FOR]
    ]
    return Pile("Repairs to approve", tasks)
