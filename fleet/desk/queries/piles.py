"""Piles of tasks, each one click from being done: what they hold and how they are found. One query a pile."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.counting.models import Count
from fleet.ground.badges import money
from fleet.lending.models import FamilyAsk, Loan
from fleet.letters.models import Letter
from fleet.people.queries.seats import Seat
from fleet.register.models import Disposal, Horn
from fleet.register.models.kinds import kind_and_stand
from fleet.signing.queries.awaited import awaited
from fleet.workshop.models import FaultReport, RepairJob

# A pile shows this many tasks; the rest is one click away in its list.
SHOWN = 6
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

    @property
    def shown(self) -> list[Task]:
        return self.tasks[:SHOWN]

    @property
    def has_more(self) -> bool:
        return len(self.tasks) > SHOWN


@dataclass(frozen=True, slots=True)
class Day:
    """Whose day it is and when: what every pile is made from."""

    seat: Seat
    now: datetime

    @property
    def today(self) -> date:
        return timezone.localdate(self.now)

    def to(self, name: str, *args: object) -> str:
        return reverse(name, args=(self.seat.school.slug, *args))


def overdue(day: Day) -> Pile:
    loans = Loan.objects.at(day.seat.school).overdue(day.today).select_related("horn", "pupil").order_by("due_on", "pk")
    tasks = [
        Task(
            what=f"{loan.horn.number}: take back from {loan.pupil.name}",
            address=day.to("loans:return" if day.seat.may("loans:return", write=True) else "loans:loan", loan.pk),
            why=_days(day.today - loan.due_on, "overdue"),
            when=loan.due_on,
            late=True,
        )
        for loan in loans[: SHOWN + 1]
    ]
    return Pile("Overdue", tasks, day.to("loans:loans") + "?state=overdue")


def due_soon(day: Day) -> Pile:
    school = day.seat.school
    loans = Loan.objects.at(school).due_soon(day.today, school.soon_days).select_related("horn", "pupil")
    tasks = [
        Task(
            what=f"{loan.horn.number}, {loan.pupil.name}",
            address=day.to("loans:loan", loan.pk),
            why="due today" if loan.due_on == day.today else _days(loan.due_on - day.today, "left"),
            when=loan.due_on,
        )
        for loan in loans.order_by("due_on", "pk")[: SHOWN + 1]
    ]
    return Pile("Due soon", tasks, day.to("loans:loans") + "?state=soon")


def reported(day: Day) -> Pile:
    reports = FaultReport.objects.at(day.seat.school).unanswered().select_related("horn", "by").order_by("at", "pk")
    tasks = [
        Task(
            what=f"{report.horn.number}: “{_short(report.words)}”",
            address=day.to("workshop:report", report.pk),
            why=f"{report.by.name} · {'still plays' if report.still_plays else 'does not play'}",
            when=timezone.localdate(report.at),
            late=not report.still_plays,
        )
        for report in reports[: SHOWN + 1]
    ]
    return Pile("Families report", tasks, day.to("workshop:bench"))


def asked(day: Day) -> Pile:
    asks = FamilyAsk.objects.at(day.seat.school).unanswered().select_related("loan__horn", "loan__pupil")
    tasks = [
        Task(
            what=f"{ask.loan.horn.number}: {ask.loan.pupil.name}’s family {ask}",
            address=day.to("loans:ask", ask.pk),
            why=_short(ask.words),
            when=timezone.localdate(ask.at),
            late=ask.kind == FamilyAsk.Kind.LOST,
        )
        for ask in asks.order_by("at", "pk")[: SHOWN + 1]
    ]
    return Pile("Families ask", tasks)


def to_hand_out(day: Day) -> Pile:
    """Agreements on families' pages: who has signed gets the horn next."""
    tasks = []
    for one in awaited(day.seat.school):
        first, total, signed = one.signatures[0], len(one.signatures), len(one.signed)
        what = (
            f"{first.horn.number}, {first.pupil.name}"
            if total == 1
            else f"{total} horns, due {first.due_on.day} {first.due_on:%B}"
        )
        said = "signed: hand it out" if total == signed == 1 else "not signed yet"
        why = said if total == 1 else f"{signed} signed, {total - signed} not yet"
        tasks.append(Task(what=what, address=one.address, why=why))
    return Pile("Agreements to be signed", tasks)


def undelivered(day: Day) -> Pile:
    """Letters that did not reach a guardian: a bounce, no address, or a connection that broke half way."""
    related = ("loan__horn", "signature__horn", "guardian")
    letters = Letter.objects.at(day.seat.school).undelivered().select_related(*related)
    tasks = [
        Task(
            what=f"{letter.about.horn.number}: {letter.guardian.name} was not reached",
            address=day.to("loans:letter", letter.pk),
            why=letter.get_state_display(),
            when=letter.due_on,
        )
        for letter in letters.order_by("due_on", "pk")[: SHOWN + 1]
    ]
    return Pile("Letters that did not arrive", tasks, day.to("loans:letters") + "?state=undelivered")


def unidentified(day: Day) -> Pile:
    horns = Horn.objects.at(day.seat.school).unidentified().select_related("place").order_by("number", "pk")
    tasks = [
        Task(
            what=f"{horn.number}: find out what it is",
            address=f"{day.to('identify:walk')}?horn={horn.pk}",
            why=str(horn.place or "no place yet"),
        )
        for horn in horns[: SHOWN + 1]
    ]
    return Pile("Not identified yet", tasks, day.to("register:horns") + "?identified=no")


def test_note_owed(day: Day) -> Pile:
    horns = Horn.objects.at(day.seat.school).kept().filter(test_note_owed=True).order_by("number", "pk")
    tasks = [
        Task(
            what=f"{horn.number}: sound the test note again",
            address=f"{day.to('identify:walk')}?horn={horn.pk}",
            why=kind_and_stand(horn.build, horn.stands_in),
        )
        for horn in horns[: SHOWN + 1]
    ]
    return Pile("Stand changed, test note owed", tasks)


def unchecked(day: Day) -> Pile:
    """Horns in the cupboard that nobody has looked over for as long as the school allows."""
    school = day.seat.school
    horns = Horn.objects.at(school).not_checked_since(day.today - timedelta(days=school.check_days))
    at_hand = horns.filter(where=Horn.Where.IN_PLACE).select_related("place").order_by("checked_on", "number", "pk")
    tasks = [
        Task(
            what=f"{horn.number}: check its condition",
            address=day.to("workshop:check-new", horn.pk),
            why=f"last looked over {horn.checked_on.day} {horn.checked_on:%B %Y}"
            if horn.checked_on
            else "never looked over",
        )
        for horn in at_hand[: SHOWN + 1]
    ]
    return Pile("Due for a check", tasks, day.to("register:horns") + "?sort=checked")


def bench(day: Day) -> Pile:
    jobs = (
        RepairJob.objects.at(day.seat.school)
        .open()
        .filter(horn__withdrawn_on=None, horn__not_found_on=None)
        .select_related("horn")
        .order_by("-horn__grade", "opened_at", "pk")
    )
    tasks = [
        Task(
            what=f"{job.horn.number}, {kind_and_stand(job.horn.build, job.horn.stands_in) or 'not identified'}",
            address=day.to("workshop:job", job.pk),
            why=job.get_state_display(),
            when=timezone.localdate(job.opened_at),
        )
        for job in jobs[: SHOWN + 1]
    ]
    return Pile("On the bench list", tasks, day.to("workshop:bench"))


def counts(day: Day) -> Pile:
    """Counts that are not signed yet; one left open for a month is late, since its list has grown old."""
    found = Count.objects.at(day.seat.school).unsigned().order_by("started_at", "pk")
    tasks = [
        Task(
            what=count.title,
            address=day.to("counting:count", count.pk),
            why=f"open for {days} days: end it, its list grows old" if late else count.state,
            when=timezone.localdate(count.started_at),
            late=late,
        )
        for count in found[: SHOWN + 1]
        for days in [count.days_open(day.today)]
        for late in [count.has_grown_old(day.today)]
    ]
    return Pile("Counts", tasks, day.to("counting:counts"))


def to_decide(day: Day) -> Pile:
    """Horns whose giving up somebody else has proposed."""
    found = Disposal.objects.at(day.seat.school).undecided().exclude(proposed_by=day.seat.user)
    tasks = [
        Task(
            what=f"{one.horn.number}: give it up?",
            address=day.to("register:disposal", one.horn_id),
            why=f"{one.proposed_by} proposes it: {_short(one.reason)}",
            when=timezone.localdate(one.proposed_at),
        )
        for one in found.select_related("horn", "proposed_by").order_by("proposed_at", "pk")[: SHOWN + 1]
    ]
    return Pile("To decide", tasks)


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
            address=day.to("workshop:job", job.pk),
            why=job.repairer or job.get_state_display(),
            when=timezone.localdate(job.opened_at),
        )
        for job in found.order_by("opened_at", "pk")[: SHOWN + 1]
    ]
    return Pile("Repairs to approve", tasks)


def _days(span: timedelta, word: str) -> str:
    return f"{span.days} day{'' if span.days == 1 else 's'} {word}"


def _short(words: str, most: int = 70) -> str:
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"
